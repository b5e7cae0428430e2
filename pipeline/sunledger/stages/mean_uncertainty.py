"""Uncertainty of means: what one source brings stays, other sources add by squares, gaps add."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.physics.segments import Segments, Selection

Array = npt.NDArray[np.float64]
Floats = npt.NDArray[np.floating]
Parts = dict[str, npt.NDArray[Any]]

COMMON, DAILY = "uncertainty_common", "uncertainty_day"
"""Names of sums by source: of errors that stay, and of errors that are new each day."""
SQUARES = "uncertainty_day_squares"
UNKNOWN = "unknown"
"""Source of all that nothing is known of."""


@dataclass(frozen=True)
class Split:
    """
    What of the uncertainty of minutes comes from where; expanded, k = 2, like the whole.

    Parameters
    ----------
    common : dict of numpy.ndarray, shape (time,)
        Source → amount of an error that stays, with its sign. Two quantities with a source of one
        name have that error in common; errors of different names are independent. [W m-2]
    day : dict of numpy.ndarray, shape (time,)
        The same of errors that are new each day. [W m-2]
    sample : numpy.ndarray, shape (time,)
        Independent from minute to minute. [W m-2]
    """

    common: Mapping[str, Floats]
    day: Mapping[str, Floats]
    sample: Floats

    def _each(self, change: Callable[[Floats], Floats]) -> Split:
        common, day = (
            {name: change(part) for name, part in parts.items()}
            for parts in (self.common, self.day)
        )
        return Split(common, day, change(self.sample))

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
        return self._each(lambda part: part * factor)

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
        return self._each(lambda part: part[inside])

    def where(self, mine: npt.NDArray[np.bool_], other: Split) -> Split:
        """
        The split of a quantity that is taken from two sources.

        Parameters
        ----------
        mine : numpy.ndarray of bool, shape (time,)
            Minutes taken from this one.
        other : Split
            Of what the rest is taken from.

        Returns
        -------
        split : Split
            An error that both have goes on from one to the other; what only one has is 0 elsewhere.
        """

        def chosen(one: Mapping[str, Floats], two: Mapping[str, Floats]) -> dict[str, Floats]:
            return {n: np.where(mine, one.get(n, 0.0), two.get(n, 0.0)) for n in {**one, **two}}

        return Split(
            chosen(self.common, other.common),
            chosen(self.day, other.day),
            np.where(mine, self.sample, other.sample),
        )


def _root(one: Floats, two: Floats) -> Floats:
    # three times as fast as hypot, whose care for huge numbers is not needed here
    return np.sqrt(one * one + two * two)


def _joined(
    one: Mapping[str, Floats], two: Mapping[str, Floats], sign: float
) -> tuple[dict[str, Floats], Floats | float]:
    """Parts of a sum or difference, and twice the covariance that the shared ones bring."""
    out = dict(one)
    both: Floats | float = 0.0
    for name, part in two.items():
        if name in one:
            both = both + 2.0 * sign * one[name] * part
            out[name] = one[name] + sign * part
        else:
            out[name] = sign * part
    return out, both


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
        With the covariance of what one source brings into both (JCGM 100:2008, eq. 13), such as
        an instrument, a logger, its clock, a reference scale; uncorrelated where nothing is known
        of the parts.
    """
    if one[0] is None or two[0] is None:
        return None, None
    if one[1] is None or two[1] is None:
        return _root(one[0], two[0]), None
    common, both = _joined(one[1].common, two[1].common, sign)
    day, both_of_day = _joined(one[1].day, two[1].day, sign)
    square = one[0] * one[0] + two[0] * two[0] + both + both_of_day
    split = Split(common, day, _root(one[1].sample, two[1].sample))
    return np.sqrt(np.maximum(square, 0.0)), split


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
        Its parts; without them all is taken as one error that stays, the careful side.
    selection : Selection
        Minutes that count.
    segments : Segments
        Periods.

    Returns
    -------
    parts : dict of numpy.ndarray, shape (period,)
        Of each source the sum of its amounts, of what is independent that of the squares. They add
        up over longer periods; empty without an uncertainty.
    """
    if uncertainty is None:
        return {}
    known = Selection(selection.valid & np.isfinite(uncertainty))
    out: Parts = {"uncertainty_count": segments.counts(known.valid)}
    if split is None:
        return out | {f"{COMMON} {UNKNOWN}": segments.sums(known.zeroed(uncertainty))}
    for word, parts in ((COMMON, split.common), (DAILY, split.day)):
        for name, part in parts.items():
            out[f"{word} {name}"] = segments.sums(known.zeroed(part))
    squares = split.sample * split.sample
    return out | {"uncertainty_sample": segments.sums(known.zeroed(squares))}


def by_days(sums: Parts, day: npt.NDArray[np.int64]) -> Parts:
    """
    Sums that may be added up over days.

    Parameters
    ----------
    sums : dict of numpy.ndarray, shape (cell,)
        ``<quantity>.<part>`` with parts as of :func:`uncertainty_sums`, over parts of days.
    day : numpy.ndarray of int64, shape (cell,)
        To which day each belongs, rising.

    Returns
    -------
    sums : dict of numpy.ndarray, shape (cell,)
        In place of each error of a day the square of its sum over the day, held by the first cell.
    """
    first = np.flatnonzero(np.diff(day, prepend=day[0] - 1))
    mine = sorted(n for n in sums if n.partition(" ")[0].endswith(DAILY) and " " in n)
    out = {name: part for name, part in sums.items() if name not in mine}
    for name in mine:
        whole = name.partition(" ")[0].removesuffix(DAILY) + SQUARES
        square = out.setdefault(whole, np.zeros(day.shape))
        square[first] += np.add.reduceat(sums[name], first) ** 2
    return out


def mean_uncertainty(sums: Parts, prefix: str = "") -> Array:
    """
    Uncertainty of means of the minutes that count.

    Parameters
    ----------
    sums : dict of numpy.ndarray, shape (period,)
        From :func:`uncertainty_sums` within a day, beyond it from :func:`by_days`; added up.
    prefix : str
        Of the names of sums over fewer minutes, where the others stand in the mean as known
        exactly.

    Returns
    -------
    uncertainty : numpy.ndarray, shape (period,)
        NaN without a minute.

    Notes
    -----
    An error that stays is in a mean with the mean of its amounts, and so is one of a day in that
    of a day; sources are independent of each other, so that their squares add. To add the amounts
    of all sources minute by minute before the mean is made would give more, by the inequality of
    the triangle: direct and diffuse take turns.
    """
    count = sums["uncertainty_count"]
    number = np.maximum(count, 1)
    square = np.zeros(count.shape)
    # in one order, so that the same sources give the same bits however they were found
    for name in sorted(sums):
        if name.startswith((f"{prefix}{COMMON} ", f"{prefix}{DAILY} ")):
            square += (sums[name] / number) ** 2
    for name in (f"{prefix}{SQUARES}", f"{prefix}uncertainty_sample"):
        if name in sums:
            square += sums[name] / number**2
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
