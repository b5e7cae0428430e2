"""What is said of losses that grow, in generated months with known truth and independent clouds.

Run: ``python tests/benchmarks/bench_soiling.py [months]`` with
``PYTHONPATH=pipeline:tests:sample_raw``. Half of the months are the sample generator's stations
with drawn instruments, half those of ``invented_months``; in all of them the ratios scatter from
day to day about as on the published month. All domes are cleaned once; from then on one instrument
loses 2, 3 or 5 % until the end of the month, evenly from the cleaning on (*from the cleaning*) or
from a later instant that nobody noted (*later*); instruments take turns. *An exchange*: a direct
that loses 5 % from the cleaning on, and an exchange of the global, which then reads otherwise, in
between. *At once*: 2 % of one instrument from one minute on, which must not be told as a growing
loss. *Clean*: nothing wrong.

A finding counts only as ``soiling_drift`` at the right position. Its size is what was lost within
the days seen, and so is the truth that its interval has to hold. Where fewer clear days or minutes
than asked for lie behind the cleaning, it is not enough evidence, and counted apart.
"""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from generated_month import generated_month
from invented_months import Month, month_of
from recorded_month import TWO_GLOBALS, cleaning, exchanged_global, recorded
from sunledger.diagnosis.checks import diagnosed
from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.selection import Components

DAY, DAYS = 86400, 30
LOSSES = (0.02, 0.03, 0.05)
PLACES = {"ghi": "global_1", "dhi": "diffuse_1", "dni": "direct_1"}
COMPONENTS = tuple(PLACES)
BY_DAY = {
    "generated": {"ghi": 0.0015, "dhi": 0.001, "dni": 0.001},
    "invented": {"ghi": 0.001, "dhi": 0.003, "dni": 0.0},
}
"""Scatter between days that the months lack against the published one: about 0.2 % of the clear
ratio and 0.3 % of the dull one."""
OTHER_GLOBAL = 0.006
"""Standard deviation of what an exchange changes. [1]"""
FIRST_SEED = 4000


@dataclass(frozen=True)
class Case:
    """A month with its cleaning, and the instants of what may be wrong."""

    parts: Components
    start: int
    cleaned: int
    onset: float
    exchange: int
    rng: np.random.Generator

    @property
    def end(self) -> float:
        """Of the month."""
        return self.start + DAYS * DAY


def case(number: int) -> Case:
    """Stations, seasons and kinds of months take turns."""
    rng = np.random.default_rng(FIRST_SEED + number)
    kind, parts, first = _month(number, rng)
    days = ((parts.middle - parts.middle[0]) // DAY).astype(int)
    scatter = {
        name: getattr(parts, name) * np.exp(rng.normal(0.0, size, DAYS + 1))[days]
        for name, size in BY_DAY[kind].items()
    }
    start = int(np.datetime64(first, "s").astype(int))
    # a third of the stretches are short
    day = int(rng.integers(14, 20) if rng.random() < 0.33 else rng.integers(0, 10))
    long = DAYS - day
    onset = start + DAY * (day + rng.uniform(0.2, 0.7) * long)
    exchange = day + int(rng.integers(long // 3, 2 * long // 3 + 1))
    return Case(replace(parts, **scatter), start, day, onset, exchange, rng)


def _month(number: int, rng: np.random.Generator) -> tuple[str, Components, str]:
    turn = number // 4
    if number % 2:
        first, cloudiness = f"2031-{1 + turn % 12:02}-01", rng.uniform(0.25, 0.5)
        month = Month(first, DAYS, seed=FIRST_SEED + number, cloudiness=cloudiness)
        return "invented", month_of(month), first
    station = ("osr", "kpn")[number // 2 % 2]
    first = f"2031-{1 + turn % 12 if station == 'kpn' else 6 + turn % 6:02}-01"
    return "generated", generated_month(station, FIRST_SEED + number, first), first


def said(item: Case, parts: Components, exchanged: bool = False) -> list[Finding]:
    """Findings of a month with its cleaning on record, and where asked with an exchange."""
    entries = [cleaning(item.cleaned, item.start)]
    entries += exchanged_global(item.exchange, item.start) if exchanged else []
    month = recorded(parts, entries, item.start, TWO_GLOBALS)
    return list(diagnosed(month, ("steps", "certificates", "dirt"))[0])


def soiled(item: Case, name: str, loss: float, onset: float) -> tuple[Components, np.ndarray]:
    """The month with a loss, and the share that is left at each time."""
    passed = np.clip((item.parts.middle - onset) / (item.end - onset), 0.0, 1.0)
    left = 1.0 - loss * passed
    return replace(item.parts, **{name: getattr(item.parts, name) * left}), left


def losses(item: Case, number: int) -> Iterator[tuple[str, str, Components, np.ndarray, bool]]:
    """Kind, component, month, share left, and whether the global was exchanged."""
    begins = {"from the cleaning": item.start + DAY * item.cleaned, "later": item.onset}
    for turn, (kind, onset) in enumerate(begins.items()):
        for rank, loss in enumerate(LOSSES):
            name = COMPONENTS[(number + turn + rank) % 3]
            dirty, left = soiled(item, name, loss, onset)
            yield f"{100 * loss:.0f} % {kind}", name, dirty, left, False
    dirty, left = soiled(item, "dni", 0.05, begins["from the cleaning"])
    other = item.rng.normal(0.0, OTHER_GLOBAL)
    behind = dirty.middle >= item.start + DAY * item.exchange
    changed = replace(dirty, ghi=dirty.ghi * np.where(behind, 1.0 + other, 1.0))
    yield "5 % and an exchange", "dni", changed, left, True


def evidence(item: Case, parts: Components) -> bool:
    """Whether behind the cleaning there is as much as the diagnosis asks for."""
    month = recorded(parts, [cleaning(item.cleaned, item.start)], item.start)
    told = diagnosed(month, ("dirt",))[1]["dirt"]["drifts"]
    return "clear_minutes" in told[-1] and told[-1]["clear_minutes"] >= 1000


def truth_of(found: Finding, left: np.ndarray, parts: Components) -> float:
    """What was lost within the days that the finding names. [%]"""
    first, last = (float(t) for t in found.evidence["seen"])
    begin, end = np.interp((first, last), parts.middle, left)
    return float(100.0 * (end / begin - 1.0))


def score(
    months: int,
) -> tuple[dict[str, Counter[str]], dict[str, list[tuple[float, float, float]]]]:
    """Counts of what was said, and truth less lower and upper end of the intervals."""
    told: dict[str, Counter[str]] = defaultdict(Counter)
    held: dict[str, list[tuple[float, float, float]]] = defaultdict(list)
    for number in range(months):
        item = case(number)
        told["clean"]["months"] += 1
        told["clean"].update(f"said {f.name}" for f in said(item, item.parts))
        if not evidence(item, item.parts):
            told["losses"]["not enough evidence"] += 1
            continue
        name = COMPONENTS[number % 3]
        step = np.where(item.parts.middle >= item.onset, 1.0 - LOSSES[0], 1.0)
        stepped = replace(item.parts, **{name: getattr(item.parts, name) * step})
        told["2 % at once"].update(_words(said(item, stepped), "sensitivity_changed", name))
        for kind, name, dirty, left, exchanged in losses(item, number):
            found = said(item, dirty, exchanged)
            told[kind].update(_words(found, "soiling_drift", PLACES[name]))
            for f in found:
                if (f.name, f.target) == ("soiling_drift", PLACES[name]):
                    truth = truth_of(f, left, dirty)
                    one = (f.size - truth, f.lower - truth, f.upper - truth)
                    for group in (kind, name, "all"):
                        held[group].append(one)
    return told, held


def _words(found: list[Finding], name: str, target: str) -> list[str]:
    right = [f for f in found if (f.name, f.target) == (name, target)]
    words = [f"also said {f.name} {f.target}" for f in found if f not in right]
    return ["found", *words] if right else words or ["nothing said"]


def main(months: int) -> None:
    """Print both tables."""
    told, held = score(months)
    short = told["losses"]["not enough evidence"]
    for kind, words in told.items():
        whole = months - short * (kind not in ("clean", "losses"))
        for what, count in sorted(words.items()):
            print(f"{kind:24} {what:48} {count:5} {100 * count / whole:6.1f} %")
    for kind, rows in held.items():
        off, lower, upper = np.array(rows).T
        inside = 100 * np.mean((lower <= 0) & (upper >= 0))
        half = np.median(upper - lower) / 2
        print(
            f"{kind:24} {off.size:5} intervals hold the truth {inside:6.1f} %, half-width"
            f" {half:.2f}, error {off.mean():+.2f} with {off.std():.2f} %"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 120)
