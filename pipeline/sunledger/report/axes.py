"""An empty figure with its axes, and words where there is nothing to draw."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure


def new_axes(width: float, height: float) -> tuple[Figure, Axes]:
    """
    A figure with one pair of axes, that belongs to nobody else.

    Parameters
    ----------
    width, height : float
        Size. [inch]

    Returns
    -------
    figure, axes : Figure, Axes
        Empty.
    """
    figure = Figure(figsize=(width, height), layout="tight")
    return figure, figure.add_subplot()


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
