"""In-situ responsivity of the global pyranometer, and the instrument at fault."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.mean_of_days import DayMean, mean_of_days
from sunledger.diagnosis.ratios import BIN, Ratios, day_values
from sunledger.diagnosis.separation import (
    SINGLE,
    Cause,
    Pair,
    Verdict,
    change_between,
    judge,
    pair_of_month,
    with_calibrations,
)
from sunledger.diagnosis.subject import WORDS, Size, Subject, finding_about, severity_of
from sunledger.physics.special import special

LEAST_CHANGE = 0.008
"""A change below is no matter: a good pyranometer may do that in a year (ISO 9060, class A). [1]"""
DIRECTIONAL = 0.005
"""Standard uncertainty of the clear ratio by directional response and level. Own value. [1]"""


@dataclass(frozen=True)
class InSitu:
    """
    Responsivity at a range of zenith angles.

    Parameters
    ----------
    zenith_from, zenith_to : float
        [degree]
    ratio, half_width : float
        Over the certificate's in force, with half its 95 % interval. [1]
    minutes, days : int
        What it rests on.
    """

    zenith_from: float
    zenith_to: float
    ratio: float
    half_width: float
    minutes: int
    days: int

    def responsivity(self, certificate: float) -> float:
        """
        Voltage over direct on the horizontal plus diffuse.

        Parameters
        ----------
        certificate : float
            Sensitivity with which the global was computed. [uV W-1 m2]

        Returns
        -------
        responsivity : float
            [uV W-1 m2]
        """
        return self.ratio * certificate


def _in_situ(ratios: Ratios, lower: float, upper: float) -> InSitu | None:
    inside = ratios.where((ratios.zenith >= lower) & (ratios.zenith < upper))
    values = day_values(inside)
    mean = mean_of_days(values.value, values.minutes)
    if mean.days < 2:
        return None
    ratio = float(np.exp(mean.value))
    return InSitu(lower, upper, ratio, ratio * _half(mean), mean.minutes, mean.days)


def _half(mean: DayMean) -> float:
    return float(special.stdtrit(mean.freedom, 0.975) * np.sqrt(mean.variance))


def responsivity_by_zenith(clear: Ratios) -> tuple[InSitu, ...]:
    """
    Responsivity in bins of zenith angle.

    Parameters
    ----------
    clear : Ratios
        Clear steady minutes.

    Returns
    -------
    bins : tuple of InSitu
        By rising zenith angle; bins with fewer than two days are left out.
    """
    lowers = np.arange(0.0, 90.0, BIN).tolist()
    found = (_in_situ(clear, lower, lower + BIN) for lower in lowers)
    return tuple(part for part in found if part)


def responsivity_in_tens(clear: Ratios) -> tuple[InSitu, ...]:
    """
    Responsivity in ranges of 10 degrees, of which one is quoted.

    Parameters
    ----------
    clear : Ratios
        Clear steady minutes.

    Returns
    -------
    ranges : tuple of InSitu
        Overlapping, every 5 degrees; those with fewer than two days are left out.
    """
    lowers = np.arange(10.0, 75.0, BIN).tolist()
    found = (_in_situ(clear, lower, lower + 10.0) for lower in lowers)
    return tuple(part for part in found if part)


def changed_sensitivity(
    subject: Subject,
    before: tuple[Ratios, Ratios],
    after: tuple[Ratios, Ratios],
    causes: Sequence[Cause] = SINGLE,
) -> tuple[Pair, Verdict, Finding | None]:
    """
    Compare a stretch with an earlier one.

    Parameters
    ----------
    subject : Subject
        Whose.
    before, after : tuple of Ratios
        Clear minutes and dull hours.
    causes : sequence of Cause
        Candidates.

    Returns
    -------
    pair, verdict, finding : Pair, Verdict, Finding or None
        The finding is None where nothing changed, where there is not enough evidence, or where
        the cause is not a single instrument (see `mixups`).
    """
    pair = change_between(before, after)
    verdict = judge(pair, causes, LEAST_CHANGE)
    names = ("sensitivity_changed", "closure_changed_cause_open")
    onset = int(after[0].middle[0]) if after[0].middle.size else None
    return pair, verdict, _finding(subject, pair, verdict, names, onset)


def against_certificates(
    subject: Subject,
    month: tuple[Ratios, Ratios],
    uncertainty: Mapping[str, float],
    causes: Sequence[Cause] = SINGLE,
) -> tuple[Pair, Verdict, Finding | None]:
    """
    Compare a month with the certificates in force.

    Parameters
    ----------
    subject : Subject
        Whose.
    month : tuple of Ratios
        Clear minutes and dull hours.
    uncertainty : mapping
        Component → expanded relative uncertainty (k = 2) of its calibration. [1]
    causes : sequence of Cause
        Candidates.

    Returns
    -------
    pair, verdict, finding : Pair, Verdict, Finding or None
        As :func:`changed_sensitivity`.
    """
    standard = {name: value / 2.0 for name, value in uncertainty.items()}
    pair = with_calibrations(pair_of_month(*month), standard, DIRECTIONAL)
    verdict = judge(pair, causes, LEAST_CHANGE)
    names = ("sensitivity_off_certificate", "closure_off_cause_open")
    return pair, verdict, _finding(subject, pair, verdict, names, None)


def _finding(
    subject: Subject, pair: Pair, verdict: Verdict, names: tuple[str, str], onset: int | None
) -> Finding | None:
    if not (pair.enough and verdict.changed) or (verdict.cause and verdict.cause not in WORDS):
        return None
    evidence = {
        "clear_change_percent": 100 * float(pair.value[0]),
        "dull_change_percent": 100 * float(pair.value[1]) if pair.dull_known else None,
        "clear_minutes": pair.minutes,
        "days": pair.days,
    }
    no_others: tuple[str, ...] = ()
    if verdict.cause:
        size = Size(100 * verdict.size, 100 * verdict.half_width, "%")
        effect = verdict.size * subject.means.get(verdict.cause, 0.0)
        action = (
            f"compare the {WORDS[verdict.cause]} radiometer with a reference; calibrate it:"
            f" it reads {size.value:+.1f} % ± {size.half_width:.1f} % off"
        )
        target, possible = verdict.cause, no_others
    else:
        half = 200 * float(np.sqrt(pair.variance[0, 0]))
        size = Size(100 * float(pair.value[0]), half, "%")
        effect = float(pair.value[0]) * subject.means.get("ghi", 0.0)
        action = "check cleanness, level, cables and certificates of all three radiometers"
        target, possible = "closure", verdict.candidates or ("more than one instrument at once",)
    return finding_about(
        subject,
        names[0] if verdict.cause else names[1],
        target,
        size,
        action,
        onset=onset,
        evidence=evidence,
        effect=effect,
        severity=severity_of(effect),
        cannot_tell=possible,
    )
