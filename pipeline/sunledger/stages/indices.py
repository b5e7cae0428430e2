"""Ratios of sums over common minutes, sunshine, and the shares of grades and sources."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.models.processing import AggregateSettings
from sunledger.physics.aggregation import sunshine_seconds
from sunledger.physics.selection import FIRST, SECOND
from sunledger.physics.sunrise import HORIZON_REFRACTION, SUN_SEMIDIAMETER
from sunledger.stages.periods import Series, coverage, masked, rows, withheld_words
from sunledger.vocabulary import GRADES, WITHHELD

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Codes = npt.NDArray[np.int8]
Parts = dict[str, npt.NDArray[Any]]

SUN_ON_HORIZON = 90.0 + HORIZON_REFRACTION + SUN_SEMIDIAMETER
"""True zenith angle at sunrise and sunset. [degree]"""


def ratio_of_sums(
    above: Array, below: Array, common: Mask, possible: Mask, width: int, least_share: float
) -> Parts:
    """
    Ratio of two sums over the minutes in which both count.

    Parameters
    ----------
    above, below : numpy.ndarray, shape (time,)
        Numerator and denominator.
    common : numpy.ndarray of bool, shape (time,)
        Minutes in which both count.
    possible : numpy.ndarray of bool, shape (time,)
        Minutes in which the ratio has a meaning: the sun is up.
    width : int
        Minutes a period.
    least_share : float
        Completeness rule, asked of the possible minutes. [1]

    Returns
    -------
    parts : dict of numpy.ndarray, shape (period,)
        By suffix. NaN where the completeness rule fails and where the denominator is not
        positive, as in polar night: undefined, not infinite.
    """
    used = rows(common & possible, width)
    count, most = used.sum(axis=1), rows(possible, width).sum(axis=1)
    upper = np.where(used, rows(above, width), 0.0).sum(axis=1)
    lower = np.where(used, rows(below, width), 0.0).sum(axis=1)
    words = np.where(most > 0, withheld_words(count, most, least_share), 0)
    undefined = (most == 0) | ((count > 0) & (lower <= 0))
    words = (words | np.where(undefined, WITHHELD["undefined"].mask, 0)).astype(np.int32)
    ratio = upper / np.where(lower > 0, lower, 1.0)
    return {
        "": masked(ratio, words),
        "withheld": words,
        "number_of_observations": count.astype(np.int32),
        "number_of_missing_observations": (most - count).astype(np.int32),
        "coverage_fraction": np.where(most > 0, count / np.maximum(most, 1), np.nan),
    }


def sunshine(
    ds: xr.Dataset, dni: Series, width: int, least_share: float, settings: AggregateSettings
) -> dict[str, Parts]:
    """
    Sunshine, the sunshine that was possible, and the share of it.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes with ``solar_zenith_angle``.
    dni : Series
        Direct irradiance.
    width : int
        Minutes a period.
    least_share : float
        Completeness rule. [1]
    settings : AggregateSettings
        Threshold and night.

    Returns
    -------
    parts : dict of dict of numpy.ndarray, shape (period,)
        ``sunshine_duration`` and ``possible_sunshine_duration`` [s], ``relative_sunshine`` [1].

    Notes
    -----
    The sun below the horizon cannot shine, so nights count without a reading. Possible is the
    time from sunrise to sunset over a free horizon, in whole minutes; the relative sunshine is
    taken over the minutes of it in which the direct counts.
    """
    zenith, interval = ds["solar_zenith_angle"].values, ds.attrs["interval"]
    night, up = zenith > settings.night_zenith, zenith < SUN_ON_HORIZON
    beam = np.where(night, 0.0, dni.mean)
    seen = rows(dni.valid | night, width)
    seconds, count = sunshine_seconds(
        rows(beam, width), interval, seen, settings.sunshine_threshold
    )
    words = withheld_words(count, width, least_share)
    shining = (np.where(dni.valid, beam, 0.0) > settings.sunshine_threshold).astype(np.float64)
    every = np.ones(zenith.size)
    return {
        "sunshine_duration": {"": masked(seconds, words), "withheld": words}
        | coverage(count, width),
        "possible_sunshine_duration": {"": rows(up, width).sum(axis=1) * float(interval)},
        "relative_sunshine": ratio_of_sums(shining, every, dni.valid, up, width, least_share),
    }


def sky_ratios(
    series: dict[str, Series], extraterrestrial: Array, width: int, least_share: float
) -> dict[str, Parts]:
    """
    Clearness index and diffuse fraction.

    Parameters
    ----------
    series : dict of Series
        With ``ghi_selected``, and ``dhi`` for the fraction.
    extraterrestrial : numpy.ndarray, shape (time,)
        Irradiance on the horizontal above the atmosphere. [W m-2]
    width : int
        Minutes a period.
    least_share : float
        Completeness rule. [1]

    Returns
    -------
    parts : dict of dict of numpy.ndarray, shape (period,)
        ``clearness_index`` and ``diffuse_fraction``, both over the minutes with the sun's centre
        above the horizon in which both quantities count.
    """
    up, total = extraterrestrial > 0.0, series["ghi_selected"]
    rule = (up, width, least_share)
    out = {"clearness_index": ratio_of_sums(total.mean, extraterrestrial, total.valid, *rule)}
    if "dhi" in series:
        dhi = series["dhi"]
        both = dhi.valid & total.valid
        out["diffuse_fraction"] = ratio_of_sums(dhi.mean, total.mean, both, *rule)
    return out


def grade_shares(grade: Codes, width: int) -> Parts:
    """
    Share of each grade, and the worst of those that a reading got.

    Parameters
    ----------
    grade : numpy.ndarray of int8, shape (time,)
        Codes of ``vocabulary.GRADES``.
    width : int
        Minutes a period.

    Returns
    -------
    parts : dict of numpy.ndarray, shape (period,)
        ``share_<grade>`` [1], and ``worst_grade``: missing only where nothing was read.
    """
    out: Parts = {}
    table = rows(grade, width)
    worst = np.full(table.shape[0], GRADES["missing"], np.int8)
    for name, code in GRADES.items():  # from good to missing, so that the worst stays
        number = np.count_nonzero(table == code, axis=1)
        out[f"share_{name}"] = number / width
        if name != "missing":
            worst = np.where(number > 0, np.int8(code), worst)
    return out | {"worst_grade": worst}


def source_shares(source: Codes, width: int) -> Parts:
    """
    Share of the minutes that each source gave.

    Parameters
    ----------
    source : numpy.ndarray of int8, shape (time,)
        Of the selected global.
    width : int
        Minutes a period.

    Returns
    -------
    parts : dict of numpy.ndarray, shape (period,)
        ``share_component_sum`` and ``share_pyranometer``, of all minutes of the period. [1]
    """
    codes = {"component_sum": FIRST, "pyranometer": SECOND}
    table = rows(source, width)
    return {f"share_{n}": np.count_nonzero(table == c, axis=1) / width for n, c in codes.items()}
