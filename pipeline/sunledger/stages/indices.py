"""Ratios of sums over common minutes, sunshine, and the shares of grades and sources."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.config.models.aggregation import AggregateSettings
from sunledger.physics.segments import Segments, Selection
from sunledger.physics.selection import FIRST, SECOND
from sunledger.physics.sunrise import HORIZON_REFRACTION, SUN_SEMIDIAMETER
from sunledger.stages.cells import Cells
from sunledger.stages.periods import Series, coverage, masked, withheld_words
from sunledger.vocabulary import GRADES, WITHHELD

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Codes = npt.NDArray[np.int8]
Parts = dict[str, npt.NDArray[Any]]

SUN_ON_HORIZON = 90.0 + HORIZON_REFRACTION + SUN_SEMIDIAMETER
"""True zenith angle at sunrise and sunset. [degree]"""
SOURCE_CODES = {"component_sum": FIRST, "pyranometer": SECOND}


def named(quantity: str, parts: Parts) -> Parts:
    """
    Parts under the name of their quantity.

    Parameters
    ----------
    quantity : str
        The quantity.
    parts : dict
        Part → values.

    Returns
    -------
    named : dict
        ``<quantity>.<part>`` → values.
    """
    return {f"{quantity}.{part}": values for part, values in parts.items()}


def ratio_sums(
    above: npt.NDArray[np.floating],
    below: npt.NDArray[np.floating],
    common: Mask,
    possible: Mask,
    segments: Segments,
) -> Parts:
    """
    Two sums over the minutes in which both count.

    Parameters
    ----------
    above, below : numpy.ndarray, shape (time,)
        Numerator and denominator.
    common : numpy.ndarray of bool, shape (time,)
        Minutes in which both count.
    possible : numpy.ndarray of bool, shape (time,)
        Minutes in which the ratio has a meaning: the sun is up.
    segments : Segments
        Periods.

    Returns
    -------
    sums : dict of numpy.ndarray, shape (period,)
        ``upper``, ``lower``, ``count``, ``most``.
    """
    used = Selection(common & possible)
    return {
        "upper": segments.sums(used.zeroed(above)),
        "lower": segments.sums(used.zeroed(below)),
        "count": segments.counts(used.valid),
        "most": segments.counts(possible),
    }


def ratio_of_sums(cells: Cells, name: str, least_share: float) -> Parts:
    """
    Ratio of two sums.

    Parameters
    ----------
    cells : Cells
        Periods with the parts of :func:`ratio_sums`.
    name : str
        The ratio.
    least_share : float
        Completeness rule, asked of the possible minutes. [1]

    Returns
    -------
    parts : dict of numpy.ndarray, shape (period,)
        By suffix. NaN where the completeness rule fails and where the denominator is not
        positive, as in polar night: undefined, not infinite.
    """
    sums: Parts = {part: cells.sums[f"{name}.{part}"] for part in _RATIO_PARTS}
    count, most, lower = sums["count"], sums["most"], sums["lower"]
    words = np.where(most > 0, withheld_words(count, most, least_share), 0)
    undefined = (most == 0) | ((count > 0) & (lower <= 0))
    words = (words | np.where(undefined, WITHHELD["undefined"].mask, 0)).astype(np.int32)
    ratio = sums["upper"] / np.where(lower > 0, lower, 1.0)
    return {
        "": masked(ratio, words),
        "withheld": words,
        "number_of_observations": count.astype(np.int32),
        "number_of_missing_observations": (most - count).astype(np.int32),
        "coverage_fraction": np.where(most > 0, count / np.maximum(most, 1), np.nan),
    }


_RATIO_PARTS = ("upper", "lower", "count", "most")


def sunshine_sums(
    zenith: npt.NDArray[np.floating], dni: Series, segments: Segments, settings: AggregateSettings
) -> Parts:
    """
    Minutes with sunshine, watched, and with the sun up.

    Parameters
    ----------
    zenith : numpy.ndarray, shape (time,)
        Zenith angle. [degree]
    dni : Series
        Direct irradiance.
    segments : Segments
        Periods.
    settings : AggregateSettings
        Threshold and night.

    Returns
    -------
    sums : dict of numpy.ndarray, shape (period,)
        ``<quantity>.<part>`` of ``sunshine_duration`` and ``relative_sunshine``.

    Notes
    -----
    The sun below the horizon cannot shine, so nights count without a reading. Possible is the
    time from sunrise to sunset over a free horizon, in whole minutes; the relative sunshine is
    taken over the minutes of it in which the direct counts.
    """
    night, up = zenith > settings.night_zenith, zenith < SUN_ON_HORIZON
    shining = dni.valid & ~night & (dni.mean > settings.sunshine_threshold)
    watched = dni.valid & up
    return {
        "sunshine_duration.count": segments.counts(dni.valid | night),
        "sunshine_duration.shining": segments.counts(shining),
        "relative_sunshine.upper": segments.counts(shining & up),
        "relative_sunshine.lower": (count := segments.counts(watched)),
        "relative_sunshine.count": count,
        "relative_sunshine.most": segments.counts(up),
    }


def sunshine(cells: Cells, least_share: float) -> dict[str, Parts]:
    """
    Sunshine, the sunshine that was possible, and the share of it.

    Parameters
    ----------
    cells : Cells
        Periods with the parts of :func:`sunshine_sums`.
    least_share : float
        Completeness rule. [1]

    Returns
    -------
    parts : dict of dict of numpy.ndarray, shape (period,)
        ``sunshine_duration`` and ``possible_sunshine_duration`` [s], ``relative_sunshine`` [1].
    """
    interval = float(cells.intervals["sunshine_duration"])
    count, possible = cells.sums["sunshine_duration.count"], cells.possible("sunshine_duration")
    words = withheld_words(np.asarray(count), possible, least_share)
    seconds = np.asarray(cells.sums["sunshine_duration.shining"] * interval)
    up = np.asarray(cells.sums["relative_sunshine.most"] * interval)
    duration: Parts = {"": masked(seconds, words), "withheld": words}
    return {
        "sunshine_duration": duration | coverage(np.asarray(count), possible),
        "possible_sunshine_duration": {"": up},
        "relative_sunshine": ratio_of_sums(cells, "relative_sunshine", least_share),
    }


def sky_sums(series: dict[str, Series], extraterrestrial: Array, segments: Segments) -> Parts:
    """
    Sums for clearness index and diffuse fraction.

    Parameters
    ----------
    series : dict of Series
        With ``ghi_selected``, and ``dhi`` for the fraction.
    extraterrestrial : numpy.ndarray, shape (time,)
        Irradiance on the horizontal above the atmosphere. [W m-2]
    segments : Segments
        Periods.

    Returns
    -------
    sums : dict of numpy.ndarray, shape (period,)
        ``<quantity>.<part>``; both over the minutes with the sun's centre above the horizon in
        which both quantities count.
    """
    up, total = extraterrestrial > 0.0, series["ghi_selected"]
    clearness = ratio_sums(total.mean, extraterrestrial, total.valid, up, segments)
    out = named("clearness_index", clearness)
    if "dhi" in series:
        dhi = series["dhi"]
        both = dhi.valid & total.valid
        out |= named("diffuse_fraction", ratio_sums(dhi.mean, total.mean, both, up, segments))
    return out


def grade_sums(grade: Codes, segments: Segments) -> Parts:
    """
    Minutes of each grade.

    Parameters
    ----------
    grade : numpy.ndarray of int8, shape (..., time)
        Codes of ``vocabulary.GRADES``.
    segments : Segments
        Periods.

    Returns
    -------
    sums : dict of numpy.ndarray, shape (..., period)
        ``grade_<name>`` for all but the missing.
    """
    return {
        f"grade_{name}": segments.counts(grade == code)
        for name, code in GRADES.items()
        if name != "missing"
    }


def grade_shares(cells: Cells, quantity: str) -> Parts:
    """
    Share of each grade, and the worst of those that a reading got.

    Parameters
    ----------
    cells : Cells
        Periods with the parts of :func:`grade_sums`.
    quantity : str
        The quantity.

    Returns
    -------
    parts : dict of numpy.ndarray, shape (period,)
        ``share_<grade>`` [1], and ``worst_grade``: missing only where nothing was read.
    """
    out: Parts = {}
    possible = cells.possible(quantity)
    worst = np.full(possible.size, GRADES["missing"], np.int8)
    rest = possible
    for name, code in GRADES.items():  # from good to missing, so that the worst stays
        if name == "missing":
            out[f"share_{name}"] = rest / possible
            continue
        number = np.asarray(cells.sums[f"{quantity}.grade_{name}"])
        rest = rest - number
        out[f"share_{name}"] = number / possible
        worst = np.where(number > 0, np.int8(code), worst)
    return out | {"worst_grade": worst}


def source_sums(source: Codes, segments: Segments) -> Parts:
    """
    Minutes that each source gave.

    Parameters
    ----------
    source : numpy.ndarray of int8, shape (time,)
        Of the selected global.
    segments : Segments
        Periods.

    Returns
    -------
    sums : dict of numpy.ndarray, shape (period,)
        ``source_component_sum`` and ``source_pyranometer``.
    """
    return {f"source_{n}": segments.counts(source == c) for n, c in SOURCE_CODES.items()}


def source_shares(cells: Cells) -> Parts:
    """
    Share of the minutes that each source gave.

    Parameters
    ----------
    cells : Cells
        Periods with the parts of :func:`source_sums`.

    Returns
    -------
    parts : dict of numpy.ndarray, shape (period,)
        ``share_component_sum`` and ``share_pyranometer``, of all minutes of the period. [1]
    """
    possible = cells.possible("ghi_selected")
    return {
        f"share_{name}": np.asarray(cells.sums[f"ghi_selected.source_{name}"]) / possible
        for name in SOURCE_CODES
    }
