"""Figures that compare the stations of a network in a month."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.figure import Figure

from sunledger.report.axes import new_axes, say_empty
from sunledger.report.network import StationState
from sunledger.vocabulary import RADIOMETRIC

MARKS = "os^dvP*X<>"


def good_shares(states: Sequence[StationState]) -> Figure:
    """
    Share of good minutes of each quantity, a row a station.

    Parameters
    ----------
    states : sequence of StationState
        In the order of the rows.

    Returns
    -------
    figure : matplotlib.figure.Figure
        One mark a quantity. [%]
    """
    figure, axes = new_axes(9.0, 1.0 + 0.35 * max(len(states), 1), left=1.2)
    for mark, quantity in zip(MARKS, RADIOMETRIC, strict=False):
        held = [
            (100 * s.shares[quantity].get("good", 0.0), row)
            for row, s in enumerate(states)
            if quantity in s.shares
        ]
        if held:
            at, rows = zip(*held, strict=True)
            axes.plot(at, rows, mark, label=quantity, markersize=7, alpha=0.8)
    axes.set_yticks(range(len(states)), [s.station for s in states])
    axes.set(xlabel="share of the minutes graded good [%]", xlim=(-2, 102))
    axes.set_ylim(max(len(states), 1) - 0.5, -0.5)
    axes.grid(axis="y", color="0.85")
    if axes.lines:
        axes.legend(fontsize=8, ncols=8, loc="lower left", bbox_to_anchor=(0, 1), frameon=False)
    else:
        say_empty(axes, "nothing arrived")
    return figure


def means_by_station(states: Sequence[StationState], month: str, quantity: str) -> Figure:
    """
    Monthly mean of a quantity with its uncertainty, a row a station.

    Parameters
    ----------
    states : sequence of StationState
        In the order of the rows.
    month : str
        Such as ``2031-04``.
    quantity : str
        Such as ``ghi``.

    Returns
    -------
    figure : matplotlib.figure.Figure
        Bars are the expanded uncertainty; withheld means are left out. [W m-2]
    """
    figure, axes = new_axes(9.0, 1.0 + 0.35 * max(len(states), 1), left=1.2)
    rows = [
        (row, *s.means[quantity][month])
        for row, s in enumerate(states)
        if month in s.means.get(quantity, {})
    ]
    if rows:
        at, values, errors = zip(*rows, strict=True)
        widths = np.nan_to_num(np.array(errors))
        axes.errorbar(values, at, xerr=widths, fmt="o", color="0.1", capsize=3)
    axes.set_yticks(range(len(states)), [s.station for s in states])
    axes.set_xlabel(f"monthly mean of {quantity} [W m-2]")
    axes.set_ylim(max(len(states), 1) - 0.5, -0.5)
    axes.grid(axis="y", color="0.85")
    if not rows:
        say_empty(axes, "no monthly mean")
    return figure
