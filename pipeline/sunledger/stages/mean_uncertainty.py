"""Uncertainty of means: what is common stays, what is independent shrinks, what is missing adds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.physics.segments import Segments, Selection

Array = npt.NDArray[np.float64]
Floats = npt.NDArray[np.floating]
Parts = dict[str, npt.NDArray[Any]]

DAY = 86400


@dataclass(frozen=True)
class Split:
    """
    What of the uncertainty of minutes behaves in which way; expanded, k = 2, like the whole.

    Parameters
    ----------
    day : numpy.ndarray, shape (time,)
        Common to a day, new the next. [W m-2]
    sample : numpy.ndarray, shape (time,)
        Independent from minute to minute. [W m-2]
    scale, logger : numpy.ndarray, shape (time,)
        Of what is common to the calibration, what all instruments of one reference scale, and all
        on one logger, have in common; with the sign of the signal. [W m-2]
    scale_name, logger_name : str
        Which scale and logger; empty where it is none or several.
    proportional : numpy.ndarray or None, shape (time,)
        Of what is common to the calibration, all that goes with the signal, scale and logger
        included; the rest, such as offsets, has another course and is independent of it. [W m-2]
    """

    day: Floats
    sample: Floats
    scale: Floats
    logger: Floats
    scale_name: str = ""
    logger_name: str = ""
    proportional: Floats | None = None

    def scaled(self, factor: Floats) -> Split:
        """
        The split of a quantity multiplied by something known.

        Parameters
        ----------
        factor : numpy.ndarray, shape (time,)
            Not negative.

        Returns
        -------
        split : Split
            Every part multiplied.
        """
        return Split(
            self.day * factor,
            self.sample * factor,
            self.scale * factor,
            self.logger * factor,
            self.scale_name,
            self.logger_name,
            None if self.proportional is None else self.proportional * factor,
        )

    def where(self, mine: npt.NDArray[np.bool_], other: Split) -> Split:
        """
        The split of a quantity that is taken from two sources.

        Parameters
        ----------
        mine : numpy.ndarray of bool, shape (time,)
            Minutes taken from this one.
        other : Split
            Of the source of the rest.

        Returns
        -------
        split : Split
            A scale or logger that is not the same in both counts as none.
        """
        return Split(
            np.where(mine, self.day, other.day),
            np.where(mine, self.sample, other.sample),
            np.where(mine, self.scale, other.scale),
            np.where(mine, self.logger, other.logger),
            self.scale_name if self.scale_name == other.scale_name else "",
            self.logger_name if self.logger_name == other.logger_name else "",
            None
            if self.proportional is None or other.proportional is None
            else np.where(mine, self.proportional, other.proportional),
        )

    def cut(self, inside: slice) -> Split:
        """
        The split of some minutes.

        Parameters
        ----------
        inside : slice
            Which.

        Returns
        -------
        split : Split
            Of those.
        """
        return Split(
            self.day[inside],
            self.sample[inside],
            self.scale[inside],
            self.logger[inside],
            self.scale_name,
            self.logger_name,
            None if self.proportional is None else self.proportional[inside],
        )


def _root(one: Floats, two: Floats) -> Floats:
    # three times as fast as hypot, whose care for huge numbers is not needed here
    return np.sqrt(one * one + two * two)


def _shared(one: Floats, two: Floats, same: bool, sign: float) -> tuple[Floats, Floats | float]:
    """Shared part of a sum or difference, and twice the covariance that it brings."""
    if same:
        return one + sign * two, 2.0 * sign * one * two
    return one * 0.0, 0.0


def combined(
    one: tuple[Floats | None, Split | None],
    two: tuple[Floats | None, Split | None],
    sign: float = 1.0,
) -> tuple[Floats | None, Split | None]:
    """
    Uncertainty of a sum or difference of two quantities.

    Parameters
    ----------
    one, two : (numpy.ndarray or None, Split or None)
        Expanded uncertainty and its split.
    sign : float
        1 for a sum, -1 for a difference.

    Returns
    -------
    uncertainty, split : numpy.ndarray or None, Split or None
        With the covariance of what one reference scale and one logger bring into both
        (JCGM 100:2008, eq. 13); uncorrelated where nothing is known of the parts.
    """
    if one[0] is None or two[0] is None:
        return None, None
    if one[1] is None or two[1] is None:
        return _root(one[0], two[0]), None
    a, b = one[1], two[1]
    names = (a.scale_name == b.scale_name != "", a.logger_name == b.logger_name != "")
    scale, twice_scale = _shared(a.scale, b.scale, names[0], sign)
    logger, twice_logger = _shared(a.logger, b.logger, names[1], sign)
    both = twice_scale + twice_logger
    square = one[0] * one[0] + two[0] * two[0] + both
    split = Split(
        _root(a.day, b.day),
        _root(a.sample, b.sample),
        scale,
        logger,
        a.scale_name if names[0] else "",
        a.logger_name if names[1] else "",
        _proportional(a, b, both),
    )
    return np.sqrt(np.maximum(square, 0.0)), split


def _proportional(a: Split, b: Split, both: Floats | float) -> Floats | None:
    """Of a sum or difference, with the covariance of what is shared."""
    if a.proportional is None or b.proportional is None:
        return None
    square = a.proportional * a.proportional + b.proportional * b.proportional + both
    return np.sqrt(np.maximum(square, 0.0))


def uncertainty_sums(
    uncertainty: Floats | None,
    split: Split | None,
    selection: Selection,
    segments: Segments,
) -> Parts:
    """
    Sums from which the uncertainty of means follows.

    Parameters
    ----------
    uncertainty : numpy.ndarray or None, shape (time,)
        Of the minutes. [unit of the quantity]
    split : Split or None
        Its parts; without them all is taken as common, the careful side.
    selection : Selection
        Minutes that count.
    segments : Segments
        Periods.

    Returns
    -------
    parts : dict of numpy.ndarray, shape (period,)
        They add up over longer periods; empty without an uncertainty.
    """
    if uncertainty is None:
        return {}
    known = Selection(selection.valid & np.isfinite(uncertainty))
    out: Parts = {"uncertainty_count": segments.counts(known.valid)}
    if split is None:
        return out | {"uncertainty": segments.sums(known.zeroed(uncertainty))}
    squares = {"day": split.day * split.day, "sample": split.sample * split.sample}
    rest = np.maximum(uncertainty * uncertainty - squares["day"] - squares["sample"], 0.0)
    common = np.sqrt(rest)
    if split.proportional is not None:
        # archived in steps, so that a part can be a little more than the whole
        mine = np.minimum(split.proportional, common)
        out["uncertainty_proportional"] = segments.sums(known.zeroed(mine))
        common = np.sqrt(np.maximum(rest - mine * mine, 0.0))
    out["uncertainty"] = segments.sums(known.zeroed(common))
    for name, values in squares.items():
        out[f"uncertainty_{name}"] = segments.sums(known.zeroed(values))
    return out


def mean_uncertainty(sums: Parts, interval: int, prefix: str = "") -> Array:
    """
    Uncertainty of means of the minutes that count.

    Parameters
    ----------
    sums : dict of numpy.ndarray, shape (period,)
        From :func:`uncertainty_sums`, added up.
    interval : int
        Of the minutes. [s]
    prefix : str
        Of the names of sums over fewer minutes, where the others stand in the mean as known
        exactly.

    Returns
    -------
    uncertainty : numpy.ndarray, shape (period,)
        Common parts as they are, those of a day shrunk by the number of days, the others by that
        of minutes; NaN without a minute.

    Notes
    -----
    Of what is common, each part's mean is that of its amounts; the two parts, which follow the
    signal and which do not, are independent.

    The square of a day's sum of n errors that are one and the same is at most n times the sum of
    their squares, which is taken for it: exact where they are equal, else the careful side.
    """
    count = sums["uncertainty_count"]
    number, mine = np.maximum(count, 1), sums[f"{prefix}uncertainty_count"]
    square = (sums[f"{prefix}uncertainty"] / number) ** 2
    if "uncertainty_proportional" in sums:
        square = square + (sums[f"{prefix}uncertainty_proportional"] / number) ** 2
    if "uncertainty_day" in sums:
        together = np.minimum(mine, mine / number * (DAY // interval))
        square = square + sums[f"{prefix}uncertainty_day"] * together / number**2
        square = square + sums[f"{prefix}uncertainty_sample"] / number**2
    return np.where(count > 0, np.sqrt(square), np.nan)


def missing_uncertainty(count: npt.NDArray[Any], possible: npt.NDArray[Any], std: Array) -> Array:
    """
    What minutes that are missing can have changed in a mean.

    Parameters
    ----------
    count, possible : numpy.ndarray of int64, shape (period,)
        Minutes that count, and those that the period holds.
    std : numpy.ndarray, shape (period,)
        Standard deviation of those that count.

    Returns
    -------
    uncertainty : numpy.ndarray, shape (period,)
        Expanded, k = 2: gaps are taken as one, whose mean differs from that of the rest as one
        minute does. Gaps are seldom at random.
    """
    share = 1.0 - count / np.maximum(possible, 1)
    return np.asarray(2.0 * np.maximum(share, 0.0) * np.nan_to_num(std))


def missing_in_composite(values: Array, there: npt.NDArray[np.bool_]) -> Array:
    """
    What times of day that are missing can have changed in a diurnal composite.

    Parameters
    ----------
    values : numpy.ndarray, shape (..., day, bin)
        Means of each time of day.
    there : numpy.ndarray of bool, shape (..., day, bin)
        Those that count.

    Returns
    -------
    uncertainty : numpy.ndarray, shape (...)
        Expanded, k = 2: what is missing differs from the mean of its time of day by the standard
        deviation over the days, all in one direction, since gaps are seldom at random.
    """
    number = there.sum(axis=-2)
    mean = np.where(there, values, 0.0).sum(axis=-2) / np.maximum(number, 1)
    off = np.where(there, values - mean[..., None, :], 0.0)
    spread = np.sqrt((off * off).sum(axis=-2) / np.maximum(number - 1, 1))
    share = 1.0 - number / there.shape[-2]
    return np.asarray(2.0 * (share * spread).mean(axis=-1))
