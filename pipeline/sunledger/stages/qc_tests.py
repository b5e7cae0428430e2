"""The tests of single minutes, and the catalogue of all: each says where it could run and failed.

The published limits are those of Long and Dutton for 1-min means (`physics.limits` gives each
number's source). Closure sees differences between instruments only: what is common to all of
them, such as equal soiling, is not observable by any test here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.physics.closure import diffuse_ratio_test
from sunledger.physics.limits import (
    bounds_test,
    longwave_down_air_bounds,
    longwave_pair_bounds,
    longwave_up_air_bounds,
)
from sunledger.stages import qc_air, qc_blame, qc_context, qc_pointing, qc_spikes, qc_statistics
from sunledger.stages.qc_polarity import polarity_reversed
from sunledger.stages.qc_view import Minutes, limit_of, limit_values, whole_diffuse
from sunledger.vocabulary import AIR_TESTED, LINEAR, LONGWAVE, SHORTWAVE

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Verdict = tuple[Mask, Mask]


def _below(level: str) -> Callable[[Minutes, str], Verdict | None]:
    def test(minutes: Minutes, quantity: str) -> Verdict | None:
        limit = limit_of(minutes, quantity, level)
        return None if limit is None else bounds_test(minutes[quantity], limit.minimum, np.inf)

    return test


def _above(level: str) -> Callable[[Minutes, str], Verdict | None]:
    def test(minutes: Minutes, quantity: str) -> Verdict | None:
        limit = limit_of(minutes, quantity, level)
        if limit is None:
            return None
        return bounds_test(minutes[quantity], -np.inf, limit_values(minutes, quantity, limit)[1])

    return test


def _outside_site(minutes: Minutes, quantity: str) -> Verdict | None:
    limit = limit_of(minutes, quantity, "site")
    if limit is None:
        return None
    return bounds_test(minutes[quantity], *limit_values(minutes, quantity, limit))


def missing(minutes: Minutes, quantity: str) -> Verdict:
    """
    Say where there is no value.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        The quantity.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        Runs everywhere.
    """
    absent = np.isnan(minutes[quantity])
    return np.ones(absent.shape, bool), absent


def over_range(minutes: Minutes, quantity: str) -> Verdict:
    """
    Say where the logger reported a signal beyond its range.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        The quantity.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        Runs everywhere.
    """
    beyond = minutes[f"{quantity}_over_range"].astype(bool)
    return np.ones(beyond.shape, bool), beyond


def diffuse_above_global(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Compare diffuse with global.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        ``ghi`` or ``dhi``: the verdict is the same for both.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        None where one of the two is not measured.
    """
    if not minutes.has("ghi", "dhi"):
        return None
    tested, failed = diffuse_ratio_test(minutes["ghi"], minutes["dhi"], minutes.zenith("dhi"))
    together = minutes.together("ghi", "dhi") & whole_diffuse(minutes.ds)
    return tested & together, failed & together


def longwave_against_air_temperature(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Compare longwave with the emission of the air near the ground.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        ``lwd`` or ``lwu``.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        None without air temperature.
    """
    if not minutes.has("air_temperature"):
        return None
    bounds = longwave_down_air_bounds if quantity == "lwd" else longwave_up_air_bounds
    return bounds_test(minutes[quantity], *bounds(minutes["air_temperature"]))


def longwave_down_against_up(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Compare downward with upward longwave.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        ``lwd`` or ``lwu``: the verdict is the same for both.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        None where one of the two is not measured.
    """
    if not minutes.has("lwd", "lwu"):
        return None
    return bounds_test(minutes["lwd"], *longwave_pair_bounds(minutes["lwu"]))


@dataclass(frozen=True)
class Test:
    """
    One test of the catalogue.

    Parameters
    ----------
    name : str
        Its bit in ``vocabulary.TESTS``.
    quantities : tuple of str
        What it can judge.
    judge : callable
        The function.
    reach : int
        How far from a minute its verdict can depend on others. [s]
    """

    name: str
    quantities: tuple[str, ...]
    judge: Callable[[Minutes, str], Verdict | None]
    reach: int = 0


ALL = (*SHORTWAVE, *LONGWAVE)
ANY = (*ALL, *LINEAR)
"""Whatever sensor gives it: tests of the record, not of the sky."""
THREE = ("ghi", "dhi", "dni")
HOURLY = qc_blame.components_disagree_for_long

CATALOGUE: tuple[Test, ...] = (
    Test("missing", (*ANY, *AIR_TESTED), missing),
    Test("over_range", ANY, over_range),
    Test("below_physical_minimum", ALL, _below("physical")),
    Test("above_physical_maximum", ALL, _above("physical")),
    Test("below_rare_minimum", ALL, _below("rare")),
    Test("above_rare_maximum", ALL, _above("rare")),
    Test("outside_site_limits", ALL, _outside_site),
    Test("components_disagree", THREE, qc_blame.components_disagree, qc_blame.REACH),
    Test("diffuse_above_global", ("ghi", "dhi"), diffuse_above_global),
    Test("twins_disagree", ALL, qc_context.twins_disagree, reach=60 * 60),
    Test("longwave_against_air_temperature", LONGWAVE, longwave_against_air_temperature),
    Test("longwave_down_against_up", LONGWAVE, longwave_down_against_up),
    Test("stuck_value", ANY, qc_statistics.stuck_value, qc_statistics.STUCK_REACH),
    Test("spike", (*THREE, *LONGWAVE), qc_spikes.spike, qc_spikes.SPIKE_REACH),
    Test("spread_inconsistent", ANY, qc_statistics.spread_inconsistent, qc_statistics.STEP_REACH),
    Test("night_offset_large", SHORTWAVE, qc_context.night_offset_large, reach=60 * 60),
    Test("polarity_reversed", (*SHORTWAVE, *LINEAR), polarity_reversed, reach=70 * 60),
    Test("frost_or_ventilation", ALL, qc_context.frost_or_ventilation, qc_context.FROST_REACH),
    Test("tracker_off_sun", ("dni", "dhi"), qc_pointing.tracker_off_sun, qc_pointing.REACH),
    Test("shade_misaligned", ("dhi",), qc_pointing.shade_misaligned, qc_pointing.REACH),
    Test("pyrheliometer_off_sun", ("dni",), qc_pointing.pyrheliometer_off_sun, qc_pointing.REACH),
    Test("beam_obstructed", ("dni",), qc_pointing.beam_obstructed, qc_pointing.REACH),
    Test("soiled", ALL, qc_context.soiled),
    Test("below_horizon_profile", THREE, qc_context.below_horizon_profile),
    Test("components_disagree_for_long", THREE, HOURLY, qc_blame.REACH),
    Test("outside_credible_range", AIR_TESTED, qc_air.outside_credible_range),
    Test("zenith_changes_fast", THREE, qc_context.zenith_changes_fast, reach=10 * 60),
    Test(
        "changes_too_fast",
        (*ALL, *AIR_TESTED),
        qc_statistics.changes_too_fast,
        qc_statistics.STEP_REACH,
    ),
)
"""Every test that runs, in the order of its bits."""
