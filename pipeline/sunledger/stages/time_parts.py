"""Time labels from arrays of years, months, days, hours and so on."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

DAY = 86400


def labels_of_parts(
    number: Mapping[str, NDArray[np.integer]],
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """
    Labels from the parts of written times.

    Parameters
    ----------
    number : dict of numpy.ndarray of int, shape (row,)
        Year (``Y``, or ``y`` of two digits), month ``m``, day ``d`` or day of the year ``j``, hour
        ``H`` or ``I`` with half of the day ``p`` (1 after noon), minute ``M``, second ``S``, or
        hour and minute in one ``c``. A year at least.

    Returns
    -------
    labels : numpy.ndarray of int64, shape (row,)
        Undefined where not ``valid``. [s since 1970-01-01]
    valid : numpy.ndarray of bool, shape (row,)
        False for what is no plain time of the calendar: it is left to the rule.
    """
    second, in_day = _seconds_of_day(number)
    written = {key: number[key] for key in "Yymdj" if key in number}
    size = len(next(iter(written.values())))
    begins = np.zeros(size, bool)
    begins[:1] = True
    for part in written.values():
        begins[1:] |= part[1:] != part[:-1]
    # the calendar is asked once for all lines of a day
    rows = np.flatnonzero(begins)
    days, valid = _many_days({key: part[rows].astype(np.int64) for key, part in written.items()})
    lasting = np.diff(rows, append=size)
    return np.repeat(days, lasting) * DAY + second, np.repeat(valid, lasting) & in_day


def _many_days(
    number: Mapping[str, NDArray[np.int64]],
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Days since 1970-01-01, and whether the calendar has them."""
    year = number["Y"] if "Y" in number else _centuries(number["y"])
    month, day = number.get("m", np.ones(1, np.int64)), number.get("d", np.ones(1, np.int64))
    valid = (year >= 1) & (month >= 1) & (month <= 12)
    months = (year - 1970) * 12 + np.clip(month, 1, 12) - 1
    first = months.astype("M8[M]").astype("M8[D]").astype(np.int64)
    if "j" in number:
        day = number["j"]
        year_length = (months + 12).astype("M8[M]").astype("M8[D]").astype(np.int64) - first
        valid &= (day >= 1) & (day <= year_length)
    else:
        month_length = (months + 1).astype("M8[M]").astype("M8[D]").astype(np.int64) - first
        valid &= (day >= 1) & (day <= month_length)
    return first + day - 1, valid


def _centuries(short: NDArray[np.int64]) -> NDArray[np.int64]:
    return short + np.where(short >= 69, 1900, 2000)


def _seconds_of_day(
    number: Mapping[str, NDArray[np.integer]],
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    zero = np.zeros(1, np.int64)
    hour, minute = number.get("H", zero), number.get("M", zero)
    second = number.get("S", zero)
    valid = np.ones(1, bool)
    if "c" in number:
        hour, minute = np.divmod(number["c"], 100)
    if "I" in number:
        valid = (number["I"] >= 1) & (number["I"] <= 12)
        hour = number["I"] % 12 + 12 * number.get("p", zero)
    whole = hour * 3600 + minute * 60 + second
    return whole, valid & (minute < 60) & (second < 60) & (whole <= DAY)
