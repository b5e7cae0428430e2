"""
Prints what the numbers of a month cost, and what it costs to judge a year of days since a check.

Run with `python tests/benchmarks/bench_numbers.py [months]` and
``PYTHONPATH=pipeline:tests:sample_raw``. Months are generated, most of their days clear enough for
closure; each is judged with all days of the months before, as where no check is on record for so
long. Figures are processor time, the least of three. The best step is also looked for by fitting
every instant, which must find the same.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from invented_months import Month, month_of
from recorded_month import recorded
from sunledger.diagnosis.changes import best_step, candidates, step_before
from sunledger.diagnosis.closure_days import moments_of_rows, rows_of
from sunledger.diagnosis.closure_fit import EAST, Moments
from sunledger.diagnosis.month import DiagnosedMonth
from sunledger.diagnosis.numbers import numbers_of
from sunledger.diagnosis.watchdog import changes


def cost(work: Callable[[], object]) -> float:
    """Processor time. [s]"""
    times = []
    for _ in range(3):
        begin = time.process_time()
        work()
        times.append(time.process_time() - begin)
    return min(times)


def generated(number: int, days: int = 28) -> DiagnosedMonth:
    """A month of a long series, nothing formed of it yet."""
    start = f"{2031 + number // 12}-{number % 12 + 1:02}-01"
    return recorded(month_of(Month(start=start, days=days, seed=number, cloudiness=0.1)))


def of_every_instant(moments: Moments) -> tuple[float, int]:
    """Least misfit of all instants and where, each fitted by itself."""
    return min((step_before(moments, k, (EAST,)).misfit, k) for k in candidates(moments))


def unread(month: DiagnosedMonth) -> DiagnosedMonth:
    """The same month with nothing formed of it yet."""
    return replace(month, parts=replace(month.parts))


def main(months: int) -> None:
    """Print a line a month and the means."""
    rows: list[list[float]] = []
    alone = []
    for number in range(months):
        month = replace(generated(number), days_before=moments_of_rows(rows))
        alone.append(cost(lambda m=month: numbers_of(unread(m))))
        moments = month.since_check
        judged = cost(lambda m=month: changes(m))
        print(
            f"{number + 1:3} months, {moments.days:4} days: numbers {alone[-1]:.3f} s,"
            f" step and drift {judged:.3f} s",
            flush=True,
        )
        rows += rows_of(month.moments)
    every = cost(lambda: of_every_instant(moments))
    print(f"numbers of a month: {np.mean(alone):.3f} s; every instant of the last: {every:.3f} s")


def test_the_best_of_all_instants_is_found_among_a_few() -> None:
    """Two months in a row, to the last bit."""
    first = generated(0, 14)
    later = replace(generated(1, 14), days_before=moments_of_rows(rows_of(first.moments)))
    found = best_step(later.since_check)
    assert found is not None
    misfit, piece = of_every_instant(later.since_check)
    assert found.misfit == misfit
    assert found.before == later.since_check.first[piece]


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 12)
