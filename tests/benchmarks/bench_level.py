"""How leans of the global are found and named: generated months and the real one.

Prints figures and asserts nothing (`PYTHONPATH=pipeline:tests:sample_raw`):

    python tests/benchmarks/bench_level.py [months, 200 by default]

Every month has one lean that begins between its days 8 and 22, and is judged twice: with a record
that has clock checks before and behind the month, which found 2 s, and without any record. Which
names count:

- with clock checks, `level_step` alone counts, whatever the direction: the record rules out the
  clock, and north must be told from responsivity by the data;
- without, a lean within 30 degree of east or west and a clock error are the same in closure, so
  that `clock_or_east_lean_step` is the whole truth and counts there; `level_step` counts anywhere;
- any other finding that names the lean among the causes it cannot tell apart
  (`north_lean_or_responsivity_step`, `clock_or_east_lean_step` beyond) is true but counts for
  nothing: its share is told beside.

An onset counts as near where at most two clear days, of 30 clear minutes at least, lie between it
and the truth; calendar days are told as well.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
from bench_watchdog import PLACES, STARTS, enough

from checks_on_record import clock
from diagnosed_months import month as with_record
from invented_months import Month, step_at
from published_month import published_month
from sunledger.diagnosis.changes import step_before
from sunledger.diagnosis.checks import diagnosed
from sunledger.diagnosis.closure_fit import EAST, NORTH, RESPONSIVITY
from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.month import DiagnosedMonth
from sunledger.physics.sun import solar_position

DAY = 86400.0
CASES = {
    "clean": (0.0, None),
    "0.3 degree east": (0.3, 90.0),
    "0.5 degree east": (0.5, 90.0),
    "1.0 degree in any direction": (1.0, None),
}
BESIDE = 30.0
"""So near to east or west a lean may be a clock. [degree]"""
LEVEL = ("changes", "steps")
"""Checks that speak of level and clock; clean months go through all."""
OF_LEVEL = (
    *("level_step", "clock_or_east_lean_step", "clock_or_east_lean_drift"),
    "north_lean_or_responsivity_step",
)


@dataclass(frozen=True)
class Trial:
    """One month: what it was given, and what was said with clock checks and without."""

    given: DiagnosedMonth
    when: float
    size: float
    azimuth: float
    checked: tuple[Finding, ...]
    bare: tuple[Finding, ...]

    @property
    def judged(self) -> bool:
        """Whether there is enough evidence on both sides."""
        return enough(self.given.moments, self.given.moments.middle >= self.when)

    @property
    def may_be_clock(self) -> bool:
        """Whether the lean lies near east or west."""
        return abs(np.cos(np.radians(self.azimuth))) <= np.sin(np.radians(BESIDE))

    @property
    def parts(self) -> dict[int, float]:
        """True lean. [rad]"""
        turn, size = np.radians(self.azimuth), np.radians(self.size)
        return {EAST: float(size * np.sin(turn)), NORTH: float(size * np.cos(turn))}


def _checks(start: str, days: int) -> list[dict[str, object]]:
    """Clock checks five days before and behind a month."""
    first = np.datetime64(start)
    times = [str(first - 5), str(first + days + 5)]
    return [clock("ck-1", times[0], 0.0), clock("ck-2", times[1], 2.0)]


def trial(seed: int, size: float, azimuth: float | None) -> Trial:
    """A month at one of four places and seasons."""
    rng = np.random.default_rng(10_000 + seed)
    latitude, altitude = PLACES[seed % 4]
    start = STARTS[seed // 4 % 4] if latitude < 60 else STARTS[1 + seed // 4 % 2]
    when = float(np.datetime64(start, "s").astype(np.int64)) + rng.uniform(8, 22) * DAY
    turn = rng.uniform(0, 360) if azimuth is None else azimuth
    what = Month(
        start=start,
        seed=seed,
        latitude=latitude,
        altitude=altitude,
        longitude=rng.uniform(-180, 180),
        cloudiness=rng.uniform(0.1, 0.8),
        east=step_at(when, size * np.sin(np.radians(turn))),
        north=step_at(when, size * np.cos(np.radians(turn))),
    )
    given = with_record(what)
    checked = replace(given, config=with_record(what, _checks(start, what.days)).config)
    only = LEVEL if size else None
    bare = diagnosed(given, only)[0]
    # the record changes nothing of what is formed from the minutes
    for formed in ("clear", "skies", "step_data", "moments", "strongest", "columns", "subject"):
        checked.__dict__[formed] = getattr(given, formed)
    return Trial(given, when, size, turn, diagnosed(checked, LEVEL)[0], bare)


def _names(found: tuple[Finding, ...]) -> tuple[str, ...]:
    return tuple(f.name for f in found if f.name in OF_LEVEL)


def report(words: str, trials: list[Trial]) -> None:
    """One case in words."""
    judged = [t for t in trials if t.judged]
    print(f"{words}: {len(judged)} of {len(trials)} with enough evidence")
    for record in ("checked", "bare"):
        said = Counter(n for t in judged for n in _names(getattr(t, record)) or ("nothing",))
        shares = ", ".join(f"{n} {c / len(judged):.1%}" for n, c in said.most_common())
        print(f"  {'clock checks' if record == 'checked' else 'no record'}: {shares}")
    if not judged[0].size:
        every = Counter(f.name for t in trials for f in t.bare)
        print(f"  any finding at all: {dict(every) or 'none'} in {len(trials)} months")
        return
    own = np.mean(["level_step" in _names(t.checked) for t in judged])
    open_ = ("level_step", "clock_or_east_lean_step")
    bare = [bool({*open_[: 1 + t.may_be_clock]} & {*_names(t.bare)}) for t in judged]
    print(f"  by its own name: {own:.1%} with clock checks, {np.mean(bare):.1%} without")
    named = [bool(_names(t.bare)) for t in judged], [bool(_names(t.checked)) for t in judged]
    print(f"  named, alone or among others: {np.mean(named[1]):.1%}, {np.mean(named[0]):.1%}")
    onsets = [(t, float(f.onset)) for t in judged for f in t.checked if f.name in OF_LEVEL]
    days = np.array([abs(onset - t.when) / DAY for t, onset in onsets])
    clear = np.array([clear_days_between(t, onset) for t, onset in onsets])
    print(f"  onset within two clear days: {np.mean(clear <= 2):.1%} of {len(onsets)}", end="")
    print(f"; within two days of the calendar {np.mean(days <= 2):.1%}")
    report_coverage(judged)


def clear_days_between(trial: Trial, onset: float) -> int:
    """How many clear days lie between the truth and an onset."""
    moments = trial.given.moments
    first = np.minimum.reduceat(moments.first, np.flatnonzero(np.diff(moments.day, prepend=-1)))
    told, true = np.searchsorted(first, [onset, trial.when])
    return abs(int(told) - int(true))


def report_coverage(judged: list[Trial]) -> None:
    """Intervals at the true instant, and those of the findings of the level themselves."""
    for words, which, at in (
        ("east, with north", (EAST, NORTH), EAST),
        ("north, with east", (EAST, NORTH), NORTH),
        ("north, with responsivity", (RESPONSIVITY, EAST, NORTH), NORTH),
    ):
        held = []
        for t in judged:
            piece = int(np.argmax(t.given.moments.middle >= t.when))
            value, half, _ = step_before(t.given.moments, piece, which).size(at)
            held.append(abs(value - t.parts[at]) <= half)
        print(f"  95 % interval of {words}: {np.mean(held):.1%} of {len(held)}")
    sizes = [f.lower <= t.size <= f.upper for t in judged for f in t.checked if _of_level(f)]
    if sizes:
        print(f"  95 % interval of the size in the finding: {np.mean(sizes):.1%} of {len(sizes)}")


def _of_level(finding: Finding) -> bool:
    return finding.name == "level_step"


def report_real() -> None:
    """One degree in eight directions put into the published month, at its mornings."""
    real = published_month()
    print("real month, untouched:", [f.name for f in diagnosed(real)[0]])
    parts = real.parts
    sun = solar_position(parts.middle, parts.latitude, parts.longitude, parts.altitude)
    z, a = np.radians(sun.zenith), np.radians(sun.azimuth)
    said: Counter[str] = Counter()
    mornings = parts.middle[0] + DAY * np.arange(20, 28)
    for when in (m for m in mornings if enough(real.moments, real.moments.middle >= m)):
        for turn in np.arange(0.0, 360.0, 45.0):
            lean = np.radians(1.0) * np.sin(z) * np.cos(a - np.radians(turn))
            raised = np.where((parts.middle >= when) & (sun.zenith < 90), parts.dni * lean, 0.0)
            given = replace(real, parts=replace(parts, ghi=parts.ghi + np.nan_to_num(raised)))
            said.update(_names(diagnosed(given, LEVEL)[0]) or ("nothing",))
    print(f"  1.0 degree, eight directions, {sum(said.values())} in all, no record: {dict(said)}")


def main() -> None:
    """All cases."""
    months = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    begin = time.process_time()
    report_real()
    for words, wrong in CASES.items():
        report(words, [trial(seed, *wrong) for seed in range(months)])
    print(f"{time.process_time() - begin:.0f} s of processor time, {months} months a case")


if __name__ == "__main__":
    main()
