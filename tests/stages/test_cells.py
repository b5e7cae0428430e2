"""Sums joined, completed and brought to longer periods."""

from __future__ import annotations

import numpy as np
from numpy.testing import assert_array_equal

from sunledger.stages.cells import Cells, coarser, completed, in_order, joined


def cells(first: int, values: list[float], name: str = "ghi", interval: int = 60) -> Cells:
    """Hours from a start."""
    edges = 3600 * np.arange(first, first + len(values) + 1)
    table = np.array(values)
    return Cells(
        edges[:-1],
        edges[1:],
        edges[:-1] + 7200,
        {f"{name}.total": table, f"{name}.count": np.full(table.size, 60)},
        {f"{name}.min": table - 1},
        {f"{name}.max": table + 1},
        {name: interval},
    )


def test_longer_periods_by_hand() -> None:
    """What adds up, the lowest, the highest; from the first start to the last end."""
    got = coarser(cells(0, [1.0, 5.0, 2.0, 4.0, 3.0]), np.array([7, 7, 9, 9, 9]))
    assert got.sums["ghi.total"].tolist() == [6.0, 9.0]
    assert got.sums["ghi.count"].tolist() == [120, 180]
    assert got.lows["ghi.min"].tolist() == [0.0, 1.0]
    assert got.highs["ghi.max"].tolist() == [6.0, 5.0]
    assert got.starts.tolist() == [0, 7200]
    assert got.ends.tolist() == [7200, 18000]
    assert got.labels.tolist() == [7200, 14400]
    assert got.possible("ghi").tolist() == [120, 180]


def test_unknown_extremes_spread_to_the_longer_period_only() -> None:
    """NaN is no number to be left out."""
    mine = cells(0, [1.0, np.nan, 2.0, 4.0])
    got = coarser(mine, np.array([0, 0, 1, 1]))
    assert_array_equal(got.lows["ghi.min"], [np.nan, 1.0])


def test_joined_pieces_of_which_one_lacks_a_quantity() -> None:
    """There it has no sample, and neither lowest nor highest; no piece keeps what it gave."""
    pieces = [cells(0, [1.0, 2.0]), cells(2, [3.0], "dhi", 600)]
    got = joined(pieces)
    assert [piece.sums | piece.lows | piece.highs for piece in pieces] == [{}, {}]
    assert got.starts.tolist() == [0, 3600, 7200]
    assert got.sums["ghi.count"].tolist() == [60, 60, 0]
    assert got.sums["dhi.total"].tolist() == [0.0, 0.0, 3.0]
    assert got.lows["dhi.min"].tolist() == [np.inf, np.inf, 2.0]
    assert got.highs["ghi.max"].tolist() == [2.0, 3.0, -np.inf]
    assert dict(got.intervals) == {"ghi": 60, "dhi": 600}
    alone = cells(0, [1.0])
    assert joined([alone]) is alone


def test_months_in_order_are_not_held_twice() -> None:
    """Each name from the months that have it; the pieces are let go."""
    pieces = [{"hour": cells(0, [1.0])}, {}, {"hour": cells(2, [3.0]), "quarter": cells(2, [4.0])}]
    got = in_order(pieces)
    assert got["hour"].sums["ghi.total"].tolist() == [1.0, 3.0]
    assert got["quarter"].sums["ghi.total"].tolist() == [4.0]
    assert pieces == [{}, {}, {}]


def test_each_quantity_from_the_first_grid_that_has_it() -> None:
    """The other grid adds only what is new."""
    first, other = cells(0, [1.0]), cells(0, [9.0], interval=600)
    both = Cells(
        other.starts,
        other.ends,
        other.labels,
        other.sums | cells(0, [5.0], "lwd").sums,
        other.lows,
        other.highs,
        {"ghi": 600, "lwd": 600},
    )
    got = completed(first, both)
    assert got.sums["ghi.total"].tolist() == [1.0]
    assert got.sums["lwd.total"].tolist() == [5.0]
    assert dict(got.intervals) == {"ghi": 60, "lwd": 600}
