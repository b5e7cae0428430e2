"""Flags, tested words, conditions from status channels, and the grade derived from them.

Nothing measured is changed or removed here.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.models.processing import GradeRule
from sunledger.config.resolve import Period
from sunledger.datasets import as_variables
from sunledger.physics.runs import run_length
from sunledger.stages.qc_blame import steady_light
from sunledger.stages.qc_pointing import not_yet_back
from sunledger.stages.qc_record import class_zero_offsets, skyline_at_sun, supply_low, unventilated
from sunledger.stages.qc_tests import CATALOGUE
from sunledger.stages.qc_view import Minutes, clock_residual
from sunledger.vocabulary import AIR_TESTED, CONDITIONS, GRADES, TESTS, mask_of

Words = npt.NDArray[np.int32]
Grades = npt.NDArray[np.int8]
Mask = npt.NDArray[np.bool_]

VERSION = 10
LONGEST_PERSISTENCE = 60 * 60
REACH = max(test.reach for test in CATALOGUE) + LONGEST_PERSISTENCE
"""Tests look at neighbouring minutes, and a grade may ask a flag to persist. [s]"""

NOT_A_JUDGEMENT = mask_of(TESTS, "missing", "over_range")
"""Tests that say nothing about whether a value that is there is right."""


def flag_words(minutes: Minutes, quantity: str) -> tuple[Words, Words]:
    """
    Run every test of the catalogue on a quantity.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        The quantity.

    Returns
    -------
    flags, tested : numpy.ndarray of int32, shape (time,)
        Bits of the tests that failed, and of those that could run.
    """
    size = minutes[quantity].size
    flags, tested = np.zeros(size, np.int32), np.zeros(size, np.int32)
    for test in CATALOGUE:
        verdict = test.judge(minutes, quantity) if quantity in test.quantities else None
        if verdict is not None:
            bit = np.int32(TESTS[test.name].mask)
            _set_bit(tested, bit, verdict[0])
            _set_bit(flags, bit, verdict[1])
    return flags, tested


def _set_bit(words: Words, bit: np.int32, where: Mask) -> None:
    """Mostly nowhere or everywhere, which is told and done sooner than minute by minute."""
    if where.all():
        words |= bit
    elif where.any():
        np.bitwise_or(words, bit, out=words, where=where)


def status_conditions(minutes: Minutes, period: Period, quantity: str) -> Words:
    """
    Read conditions out of the status channels and clocks.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    period : Period
        Channels with what they serve and when it counts as off.
    quantity : str
        The quantity.

    Returns
    -------
    words : numpy.ndarray of int32, shape (time,)
        ``ventilation_off``, ``supply_low``, ``tracker_homing`` (until the beam is back),
        ``clocks_apart``.
    """
    words = np.zeros(minutes[quantity].size, np.int32)
    still = minutes.unventilated.get(quantity)
    if still is not None:
        words[still] |= CONDITIONS["ventilation_off"].mask
    low = minutes.supply_low.get(quantity)
    if low is not None:
        words[low] |= CONDITIONS["supply_low"].mask
    if quantity in ("dni", "dhi"):
        words[minutes.once("homing", not_yet_back)] |= CONDITIONS["tracker_homing"].mask
    if quantity in ("ghi", "dhi", "dni") and minutes.has("ghi", "dhi", "dni"):
        together = minutes.together("ghi", "dhi", "dni")
        known = ~np.isnan(minutes["ghi"] + minutes["dhi"] + minutes["dni"])
        words[known & ~together] |= CONDITIONS["clocks_apart"].mask
    return words


def _matches(rule: GradeRule, flags: Words, conditions: Words, steady: Mask | None) -> Mask | None:
    """Where a rule matches; None where nothing that it asks for ever occurs."""
    hit: Mask | None = None
    words = (
        (flags, mask_of(TESTS, *rule.flags)),
        (conditions, mask_of(CONDITIONS, *rule.conditions)),
    )
    for word, mask in words:
        if mask and np.bitwise_or.reduce(word) & mask:
            found = (word & mask) != 0
            hit = found if hit is None else hit | found
    if hit is None:
        return None
    if rule.light == "steady":
        hit &= False if steady is None else steady
    return hit if rule.persists == 1 else run_length(hit) >= rule.persists


def grades(
    rules: tuple[GradeRule, ...],
    flags: Words,
    tested: Words,
    conditions: Words,
    steady: Mask | None = None,
) -> Grades:
    """
    Derive the grade of each minute by the rule table.

    Parameters
    ----------
    rules : tuple of GradeRule
        In order; the first that matches decides.
    flags, tested, conditions : numpy.ndarray of int32, shape (time,)
        The three words.
    steady : numpy.ndarray of bool or None, shape (time,)
        Where the light keeps still, for the rows that ask; None where that is not known.

    Returns
    -------
    grade : numpy.ndarray of int8, shape (time,)
        IOC Manuals and Guides 54 vol. 3: 1 good, 2 not evaluated, 3 questionable, 4 bad, 9
        missing. Missing comes before every rule; without any rule that matches a minute is good
        if a test could judge it, else not evaluated.
    """
    judged = (tested & ~np.int32(NOT_A_JUDGEMENT)) != 0
    grade = np.where(judged, GRADES["good"], GRADES["not_evaluated"]).astype(np.int8)
    for rule in reversed(rules):
        hit = _matches(rule, flags, conditions, steady)
        if hit is not None:
            grade[hit] = GRADES[rule.grade]
    grade[(flags & TESTS["missing"].mask) != 0] = GRADES["missing"]
    return grade


def _tracker_words(period: Period) -> dict[int, str]:
    for logger in period.loggers:
        for channel in logger.channels:
            if channel.name == "tracker_mode":
                return dict(channel.meanings or {})
    return {}


def minutes_view(ds: xr.Dataset, period: Period) -> Minutes:
    """
    Minutes as the tests see them.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes out of the time-correct stage.
    period : Period
        Resolved configuration.

    Returns
    -------
    minutes : Minutes
        With the settings, skyline, class limits and status that the tests ask for.
    """
    return Minutes(
        ds.assign_attrs(tracker_words=_tracker_words(period)),
        period.processing.qc_flag,
        period.processing.time_correct.clocks_apart,
        {q: clock_residual(ds, period, q) for q in period.quantities()},
        altitude=period.altitude,
        skyline=skyline_at_sun(ds, period),
        zero_offset=class_zero_offsets(ds, period),
        unventilated=unventilated(ds, period),
        supply_low=supply_low(ds, period),
    )


def flagged_quantities(ds: xr.Dataset, period: Period) -> tuple[str, ...]:
    """
    Quantities that have flags, conditions and a grade.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes.
    period : Period
        Resolved configuration.

    Returns
    -------
    quantities : tuple of str
        The radiometric ones, then those of the air that have tests.
    """
    air = (q for q in AIR_TESTED if f"{q}_conditions" in ds)
    return (*period.quantities(), *air)


def qc_flag(ds: xr.Dataset, period: Period) -> xr.Dataset:
    """
    Flag and grade every radiometric quantity, and those of the air that have tests.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes out of the time-correct stage.
    period : Period
        Resolved configuration.

    Returns
    -------
    flagged : xarray.Dataset
        The input and, for each quantity, ``<quantity>_flags`` and ``<quantity>_tested``,
        ``<quantity>_conditions`` completed from the status channels, and ``<quantity>_grade``.
    """
    minutes = minutes_view(ds, period)
    steady = steady_light(minutes)
    added: dict[str, Any] = {}
    for quantity in flagged_quantities(ds, period):
        flags, tested = flag_words(minutes, quantity)
        recorded = ds[f"{quantity}_conditions"].values.astype(np.int32)
        conditions = recorded | status_conditions(minutes, period, quantity)
        grade = grades(minutes.settings.grades, flags, tested, conditions, steady)
        words = {"flags": flags, "tested": tested, "conditions": conditions, "grade": grade}
        added |= {f"{quantity}_{name}": ("time", values) for name, values in words.items()}
    return ds.assign(as_variables(added))
