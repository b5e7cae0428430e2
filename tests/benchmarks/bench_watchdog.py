"""How well the sun watches clock and level: generated months with independent clouds, real month.

Prints figures and asserts nothing:

    python tests/benchmarks/bench_watchdog.py [months, 200 by default]
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import dataclass

import numpy as np

from diagnosed_months import month as with_record
from invented_months import Month, by_day, plus, step_at
from published_month import published_month
from sunledger.diagnosis.changes import candidates, step_before
from sunledger.diagnosis.closure_fit import EAST, NORTH, RESPONSIVITY, Moments
from sunledger.diagnosis.month import DiagnosedMonth
from sunledger.diagnosis.watchdog import NOT_ENOUGH, as_seconds, changes

PLACES = ((46.8, 490.0), (-33.0, 20.0), (20.0, 300.0), (60.0, 80.0))
STARTS = ("2031-01-01", "2031-04-01", "2031-06-01", "2031-09-01")
DAY = 86400.0
RESTLESS = {"east": 0.08, "north": 0.08, "responsivity": 0.002}
"""Scatter from day to day, about as on the published month. [degree, degree, 1]"""
CASES = {
    "clean": {},
    "restless": {"restless": 1.0},
    "clock 120 s, restless": {"clock": 120.0, "restless": 1.0},
    "east lean 0.5 degree": {"east": 0.5},
    "east lean 0.3 degree": {"east": 0.3},
    "clock 120 s": {"clock": 120.0},
    "lean 1.0 degree, any direction": {"any": 1.0},
    "global 2 % more": {"responsivity": 0.02},
}


def enough(moments: Moments, later: np.ndarray) -> bool:
    """Whether both sides of a step hold as much as a verdict asks for."""
    return bool(later.any()) and int(np.argmax(later)) in candidates(moments)


@dataclass(frozen=True)
class Trial:
    """One month: what it was given and what came out."""

    given: DiagnosedMonth
    when: float
    truth: dict[int, float]
    names: tuple[str, ...]
    verdict: str
    onset: float


def trial(seed: int, wrong: dict[str, float]) -> Trial:
    """A month at one of four places and seasons, with a step between its days 8 and 22."""
    rng = np.random.default_rng(10_000 + seed)
    latitude, altitude = PLACES[seed % 4]
    start = STARTS[seed // 4 % 4] if latitude < 60 else STARTS[1 + seed // 4 % 2]
    when = float(np.datetime64(start, "s").astype(np.int64)) + rng.uniform(8, 22) * DAY
    sizes = dict(wrong)
    restless = sizes.pop("restless", 0.0)
    if "any" in sizes:
        turn, size = rng.uniform(0, 2 * np.pi), sizes.pop("any")
        sizes |= {"east": size * np.sin(turn), "north": size * np.cos(turn)}
    longitude, cloudiness = rng.uniform(-180, 180), rng.uniform(0.1, 0.8)
    errors = {name: [step_at(when, size)] for name, size in sizes.items()}
    first = float(np.datetime64(start, "s").astype(np.int64)) - 240.0 * longitude
    for name, size in RESTLESS.items():
        errors.setdefault(name, []).append(by_day(rng, first, size * restless))
    what = Month(
        start=start,
        seed=seed,
        latitude=latitude,
        altitude=altitude,
        longitude=longitude,
        cloudiness=cloudiness,
        **{name: plus(*courses) for name, courses in errors.items()},
    )
    given = with_record(what)
    found, verdict = changes(given)
    east = np.radians(sizes.get("east", 0.0))
    east -= sizes.get("clock", 0.0) / abs(as_seconds(1.0, latitude))
    truth = {EAST: float(east), NORTH: float(np.radians(sizes.get("north", 0.0)))}
    names = tuple(f.name for f in found)
    onset = min((abs(f.onset - when) for f in found), default=np.nan)
    return Trial(given, when, truth, names, verdict["verdict"], onset / DAY)


def coverage(trials: list[Trial], which: tuple[int, ...], coefficient: int) -> tuple[float, int]:
    """Share of intervals at the true instant that hold the truth, and of how many."""
    held = []
    for t in trials:
        later = t.given.moments.middle >= t.when
        if enough(t.given.moments, later):
            step = step_before(t.given.moments, int(np.argmax(later)), which)
            value, half_width, _ = step.size(coefficient)
            held.append(abs(value - t.truth[coefficient]) <= half_width)
    return float(np.mean(held)), len(held)


def report(name: str, trials: list[Trial]) -> None:
    """One case in words."""
    judged = [t for t in trials if t.verdict != NOT_ENOUGH]
    counts = Counter(n for t in judged for n in t.names)
    said = ", ".join(f"{n} {c / len(judged):.1%}" for n, c in counts.items()) or "nothing"
    any_found = np.mean([bool(t.names) for t in judged])
    onsets = [t.onset for t in judged if t.names]
    close = np.mean([o <= 2 for o in onsets]) if onsets else np.nan
    print(f"{name}: {len(judged)} of {len(trials)} judged; any finding {any_found:.1%}: {said}")
    print(f"  onset within two days {close:.1%}")
    if "2 %" not in name:
        every = (RESPONSIVITY, EAST, NORTH)
        for words, which, at in (
            ("east", (EAST,), EAST),
            ("east, all three free", every, EAST),
            ("north, all three free", every, NORTH),
        ):
            if words != "east" or "any" not in name:
                share, count = coverage(trials, which, at)
                print(f"  95 % interval of {words}: holds the truth in {share:.1%} of {count}")


def report_real() -> None:
    """Steps of two minutes and drifts of 10 s a day in the published real month."""
    real = published_month()
    print("real month, untouched:", [f.name for f in changes(real)[0]] or "nothing")
    time_of = real.parts.middle
    rows = []
    for size in (120.0, -120.0):
        for when in np.arange(time_of[0], time_of[-1], 3 * 3600.0):
            if enough(real.moments, real.moments.middle >= when):
                found, verdict = changes(published_month(np.where(time_of >= when, size, 0.0)))
                value, width = verdict.get("east_step_s", (np.nan, np.nan))
                rows.append((bool(found), abs(value - size) <= 45.0, width))
    found, sized, width = (np.array(column) for column in zip(*rows, strict=True))
    print(f"  step of 120 s, {len(rows)} placements: found {found.mean():.1%}, within 45 s", end="")
    print(f" {sized.mean():.1%}, half-width {width.min():.0f} to {width.max():.0f} s", end="")
    print(f", at most 75 s in {(width <= 75).mean():.1%}, median {np.median(width):.0f}")
    for rate in (10.0, -10.0):
        given = published_month(rate * (time_of - time_of[0]) / DAY)
        found, verdict = changes(given)
        names = [f.name for f in found]
        print(f"  drift of {rate:g} s a day:", names, verdict["east_drift_s_per_day"])


def main() -> None:
    """All cases."""
    months = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    begin = time.process_time()
    report_real()
    for name, wrong in CASES.items():
        report(name, [trial(seed, wrong) for seed in range(months)])
    print(f"{time.process_time() - begin:.0f} s of processor time, {months} months a case")


if __name__ == "__main__":
    main()
