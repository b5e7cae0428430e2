"""The archive agrees with the generator's truth within the uncertainty it states.

The full measure, 20 seeds, is printed by tests/benchmarks/bench_truth.py; here one seed a station.
"""

from __future__ import annotations

from pathlib import Path

import pytest

import truth


@pytest.mark.parametrize("station", ["osr", "kpn"])
def test_minutes_agree_with_the_truth(tmp_path: Path, station: str) -> None:
    """At least 95 % of the undoubted minutes lie within the stated uncertainty, all three."""
    ds, true = truth.archive_of(tmp_path, station, days=8, seed=41)
    for quantity in truth.QUANTITIES:
        got = truth.score(ds, true, quantity)
        assert got.minutes > 1000, quantity
        assert got.within >= 0.95, (quantity, got)


def test_a_wrong_sensitivity_is_seen(tmp_path: Path) -> None:
    """The measure can fail: 5 % more direct than there was leaves the stated uncertainty."""
    ds, true = truth.archive_of(tmp_path, "kpn", days=3, seed=41)
    wrong = ds.assign(dni=ds["dni"] * 1.05)
    assert truth.score(wrong, true, "dni").within < 0.95
