"""An empty figure with its axes, and words where there is nothing to draw."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

RIGHT, BOTTOM, TOP = 0.25, 0.55, 0.35
"""Margins around axes. [inch]"""


def new_axes(width: float, height: float, left: float = 0.8) -> tuple[Figure, Axes]:
    """
    A figure with one pair of axes, that belongs to nobody else.

    Parameters
    ----------
    width, height : float
        Size. [inch]
    left : float
        Margin for the labels of the vertical axis. [inch]

    Returns
    -------
    figure, axes : Figure, Axes
        Empty.
    """
    # margins are given, since finding them by drawing twice costs a third of a page's time
    figure = Figure(figsize=(width, height))
    size = (width - left - RIGHT, height - BOTTOM - TOP)
    corner = (left / width, BOTTOM / height)
    return figure, figure.add_axes((*corner, size[0] / width, size[1] / height))


def say_empty(axes: Axes, why: str) -> None:
    """
    Say in the middle of empty axes why they are empty.

    Parameters
    ----------
    axes : Axes
        The axes.
    why : str
        The reason.
    """
    axes.text(0.5, 0.5, why, ha="center", va="center", transform=axes.transAxes)
