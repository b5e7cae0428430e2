"""Steps near the turn of a month: pairs of generated months with known truth.

Prints figures and asserts nothing (`PYTHONPATH=pipeline:tests:sample_raw`):

    python tests/benchmarks/bench_turn.py [pairs, 200 by default]

Two months in a row under one sky of independent clouds, judged one after the other as a run does. A
step lies within three days of their turn: 2 % of one radiometer, in turns, or a lean of one degree
in any direction. Each pair is judged without a step as well. A step counts where one of the two
months names it, by its own name and target, with an onset within two clear days; of a lean near
east or west `clock_or_east_lean_step` is the whole truth, since no clock check is on record.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
from bench_level import BESIDE
from bench_watchdog import PLACES, STARTS

import invented
from invented_months import DAY, Month, month_of, step_at
from sunledger.config.loading import StationConfig
from sunledger.config.resolve import Period
from sunledger.diagnosis.checks import diagnosed
from sunledger.diagnosis.closure_days import moments_of_rows, rows_of
from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.month import DiagnosedMonth
from sunledger.diagnosis.selection import Components

KINDS = ("ghi", "dhi", "dni", "lean")
ERROR = 0.02
NEAR = 3.0
"""So near to the turn lies the step. [d]"""
FIRST_SEED = 3000
CHECKS = ("changes", "steps")


@dataclass(frozen=True)
class Pair:
    """Two months in a row, and where their turn lies. [s since 1970-01-01]"""

    what: Month
    begin: float
    turn: float
    end: float


def pair(number: int) -> Pair:
    """Places and seasons take turns."""
    rng = np.random.default_rng(10_000 + FIRST_SEED + number)
    latitude, altitude = PLACES[number % 4]
    start = STARTS[number // 4 % 4] if latitude < 60 else STARTS[1 + number // 4 % 2]
    months = np.datetime64(start[:7], "M") + np.arange(3)
    begin, turn, end = (float(m.astype("M8[s]").astype(np.int64)) for m in months)
    what = Month(
        start=start,
        days=round((end - begin) / DAY),
        seed=FIRST_SEED + number,
        latitude=latitude,
        altitude=altitude,
        longitude=rng.uniform(-180, 180),
        cloudiness=rng.uniform(0.1, 0.8),
    )
    return Pair(what, begin, turn, end)


def _part(parts: Components, start: float, end: float) -> Components:
    inside = (parts.middle >= start) & (parts.middle < end)
    values = (getattr(parts, name)[inside] for name in ("ghi", "dhi", "dni", "usable"))
    place = (parts.latitude, parts.longitude, parts.altitude)
    return Components(parts.middle[inside], parts.interval, *values, *place)


def judged(of: Pair, parts: Components) -> tuple[list[Finding], DiagnosedMonth, DiagnosedMonth]:
    """What both months say, the second with what the first tells."""
    site = {n: getattr(of.what, n) for n in ("latitude", "longitude", "altitude")}
    config = invented.station_config(**site)
    first, second = (
        DiagnosedMonth(_name(start), config, _period(config, start, end), _part(parts, start, end))
        for start, end in ((of.begin, of.turn), (of.turn, of.end))
    )
    found, verdicts = diagnosed(first, CHECKS)
    before = moments_of_rows(rows_of(first.moments))
    told = {first.period: {"steps": {"series": verdicts["steps"]["series"]}}}
    second = replace(second, told_before=told, days_before=before)
    return [*found, *diagnosed(second, CHECKS)[0]], first, second


def _name(start: float) -> str:
    return str(np.datetime64(int(start), "s"))[:7]


def _period(config: StationConfig, start: float, end: float) -> Period:
    return invented.period(config, int(start), round((end - start) / DAY))


def with_step(of: Pair, number: int) -> tuple[Components, float, set[tuple[str, str]]]:
    """The pair with a step, when it was, and what may be said of it."""
    rng = np.random.default_rng(20_000 + number)
    when = of.turn + rng.uniform(-NEAR, NEAR) * DAY
    kind, turn = KINDS[number % 4], rng.uniform(0.0, 2 * np.pi)
    if kind == "lean":
        east, north = step_at(when, np.sin(turn)), step_at(when, np.cos(turn))
        said = {("level_step", "global_1")}
        if abs(np.cos(turn)) <= np.sin(np.radians(BESIDE)):
            said.add(("clock_or_east_lean_step", "global_1"))
        return month_of(replace(of.what, east=east, north=north)), when, said
    parts = month_of(of.what)
    sign = 1.0 if number // 4 % 2 else -1.0
    values = getattr(parts, kind)
    wrong = np.where(parts.middle >= when, values * (1.0 + sign * ERROR), values)
    return replace(parts, **{kind: wrong}), when, {("sensitivity_changed", kind)}


def _clear_days(months: tuple[DiagnosedMonth, ...], a: float, b: float) -> int:
    """Clear days between two instants."""
    first = np.concatenate(
        [m.moments.first[np.diff(m.moments.day, prepend=-1) > 0] for m in months]
    )
    return int(np.ptp(np.searchsorted(first, [a, b])))


def outcome(of: Pair, number: int) -> str:
    """What is said of a pair with a step."""
    parts, when, right = with_step(of, number)
    found, *months = judged(of, parts)
    mine = [f for f in found if (f.name, f.target) in right]
    if mine:
        late = min(_clear_days(tuple(months), float(f.onset or 0), when) for f in mine)
        return "found" if late <= 2 else "found, onset off"
    return f"said {found[0].name}" if found else "nothing said"


def main() -> None:
    """All pairs."""
    pairs = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    begin = time.process_time()
    told: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    clean: Counter[str] = Counter()
    for number in range(pairs):
        of = pair(number)
        found, *months = judged(of, month_of(of.what))
        clean.update(f.name for f in found)
        sides = [m.moments for m in months]
        if min(s.minutes.sum() for s in sides) < 1500 or min(s.days for s in sides) < 6:
            clean["pairs with too little clear sky"] += 1
            continue
        told[KINDS[number % 4]][outcome(of, number)] += 1
    print(f"{pairs} pairs without a step: {dict(clean) or 'nothing said'}")
    for kind, counts in told.items():
        shares = ", ".join(f"{n} {c / counts.total():.1%}" for n, c in counts.most_common())
        print(f"{kind}: {counts.total()} steps near a turn: {shares}")
    print(f"{time.process_time() - begin:.0f} s of processor time")


if __name__ == "__main__":
    main()
