"""Figures of the network are tested by the data they draw."""

from __future__ import annotations

from numpy.testing import assert_allclose

from network_states import state
from sunledger.report.figures_of_network import good_shares, means_by_station


def test_a_row_a_station_and_a_mark_a_quantity() -> None:
    axes = good_shares([state("a", missing=100), state("b", bad=500)]).axes[0]
    (line,) = axes.lines
    assert line.get_label() == "ghi"
    assert_allclose(line.get_xdata(), [90.0, 50.0])
    assert_allclose(line.get_ydata(), [0, 1])
    assert [t.get_text() for t in axes.get_yticklabels()] == ["a", "b"]


def test_means_with_their_uncertainty() -> None:
    """A station without a mean has an empty row."""
    states = [state("a"), state("b", means={"ghi": {"2031-04": (200.0, 5.0)}})]
    axes = means_by_station(states, "2031-04", "ghi").axes[0]
    (bar,) = axes.collections
    assert_allclose(bar.get_segments()[0], [[195.0, 1.0], [205.0, 1.0]])  # type: ignore[attr-defined]


def test_nothing_arrived() -> None:
    assert good_shares([]).axes[0].texts[0].get_text() == "nothing arrived"
    assert means_by_station([], "2031-04", "ghi").axes[0].texts
