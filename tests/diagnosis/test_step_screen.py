"""Which instants are worth an exact fit, against the fit of every one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from diagnosed_months import month
from invented_months import Month, step_at
from sunledger.diagnosis.changes import candidates
from sunledger.diagnosis.closure_days import joined, moments_of_rows, rows_of
from sunledger.diagnosis.closure_fit import EAST, NORTH, Moments, changing_design, misfit
from sunledger.diagnosis.step_screen import worth_a_fit

FIRST = float(np.datetime64("2031-06-01", "s").astype(np.int64))


def of_month(seed: int, size: float, **given: object) -> Moments:
    """A month with a step of the east term after some days."""
    step = step_at(FIRST + (9 + seed) * 86400.0, size)
    return month(Month(cloudiness=0.2, seed=seed, east=step, **given)).moments


def misfits(moments: Moments, pieces: list[int], which: tuple[int, ...]) -> np.ndarray:
    """Of every piece, from its own equations."""
    every = np.arange(moments.day.size)
    designs = (changing_design(moments, (every >= k).astype(float), which) for k in pieces)
    return np.array([misfit(moments, design) for design in designs])


@pytest.mark.parametrize("which", [(EAST,), (EAST, NORTH)])
@pytest.mark.parametrize("size", [0.0, 0.5])
@pytest.mark.parametrize("seed", range(4))
def test_the_best_is_never_left_out(seed: int, size: float, which: tuple[int, ...]) -> None:
    """With a step and without one; what is left out is worse by more than rounding."""
    moments = of_month(seed, size)
    pieces = candidates(moments)
    kept = worth_a_fit(moments, pieces, which)
    exact = misfits(moments, pieces, which)
    assert pieces[int(np.argmin(exact))] in kept
    left = [at for at, k in enumerate(pieces) if k not in kept]
    assert exact[left].min() > exact.min() + 1e-9 * abs(exact.min())
    assert len(kept) < len(pieces) / 2


def test_breaks_on_record_and_whole_days_behind_are_allowed_for() -> None:
    """Days of an earlier month in one piece each, and a lean that the record tells in between."""
    earlier = moments_of_rows(rows_of(of_month(1, 0.0, start="2031-05-01")))
    for breaks in ((), (FIRST - 12 * 86400.0,), (FIRST - 12 * 86400.0, FIRST + 8 * 86400.0)):
        moments = replace(joined(earlier, of_month(2, 0.4)), breaks=breaks)
        pieces = candidates(moments)
        kept = worth_a_fit(moments, pieces, (EAST,))
        exact = misfits(moments, pieces, (EAST,))
        assert pieces[int(np.argmin(exact))] in kept
        assert len(kept) < len(pieces) / 2


def test_nothing_is_left_out_where_rounding_could_decide() -> None:
    """Regressors that are one and the same cannot be parted, nor can one that says nothing."""
    moments = of_month(3, 0.5)
    pieces = candidates(moments)
    same = moments.matrix.copy()
    same[:, :, NORTH], same[:, NORTH, :] = same[:, :, 0], same[:, 0, :]
    same[:, NORTH, NORTH] = same[:, 0, 0]
    assert worth_a_fit(replace(moments, matrix=same), pieces, (EAST,)) == pieces
    silent = moments.matrix.copy()
    silent[:, EAST], silent[:, :, EAST] = 0.0, 0.0
    assert worth_a_fit(replace(moments, matrix=silent), pieces, (EAST,)) == pieces
