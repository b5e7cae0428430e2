"""
Prints what the settings of the flags find where they were not chosen.

Run with `python tests/benchmarks/bench_qc_tuning.py`; `--placements N` a block and fault, `--seed
N`, `--only GROUP`. The real month is cut into blocks of three days. For each group of settings,
each block in turn is left out, the choice from a grid that finds most on the other blocks is taken,
and what it finds in the block left out is counted. Only a choice counts that raises at most the
group's natural alarms on the blocks it is chosen on. The choice of all blocks, and what the package
has set, are then scored on generated months of two stations. The days on which the month's own
direct is faulty count neither way.
"""

from __future__ import annotations

import argparse
import itertools
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

REPOSITORY = Path(__file__).resolve().parents[2]
# A script as well: the generator and the fault models lie outside the package.
sys.path[:0] = [str(REPOSITORY / f) for f in ("sample_raw", "tests", "tests/benchmarks")]

import bench_qc  # noqa: E402

import injected_faults  # noqa: E402
from sunledger.config.models.processing import FlagSettings  # noqa: E402
from sunledger.config.resolve import Period  # noqa: E402
from sunledger.stages.qc_flag import minutes_view  # noqa: E402
from sunledger.stages.qc_tests import CATALOGUE  # noqa: E402
from sunledger.stages.qc_view import Minutes  # noqa: E402

SHARED = ("sky", "whole_sky")
"""What no setting changes."""
OTHERS = (("osr", 61), ("kpn", 61))
"""Generated months, with a seed used for nothing else."""


@dataclass(frozen=True)
class Group:
    """Settings chosen together, and by what."""

    name: str
    grid: dict[str, tuple[Any, ...]]
    asked: tuple[tuple[str, str], ...]
    """Fault, and the sky in whose minutes it has to be found."""
    alarms: float
    """Largest share of daylight minutes with one of the bits where nothing is wrong."""

    def choices(self) -> list[dict[str, Any]]:
        """Every combination of the grid."""
        return [
            dict(zip(self.grid, row, strict=True)) for row in itertools.product(*self.grid.values())
        ]


CLOSURE = (
    ("global +10%", "clear"),
    ("global -10%", "clear"),
    ("direct +10%", "clear"),
    ("direct -10%", "clear"),
    ("diffuse +10%", "overcast"),
    ("diffuse -10%", "overcast"),
)
GROUPS = (
    Group(
        "tracker",
        {
            "bright_share": (0.7, 0.8, 0.9),
            "least_step": (0.1, 0.15),
            "least_bright": (0.1, 0.2, 0.3),
            "least_rare": (2, 4),
        },
        (("tracker stopped", "clear"), ("tracker stopped", "partly")),
        0.003,
    ),
    Group(
        "pointing",
        {"least_loss": (0.06, 0.08, 0.1), "window": (10, 20), "least_share": (0.4, 0.5, 0.7)},
        (
            ("pyrheliometer slipped", "clear"),
            ("shade leaks 20%", "clear"),
            ("shade leaks 100%", "clear"),
            ("direct obstructed 20 %", "clear"),
        ),
        0.003,
    ),
    Group(
        "closure",
        {
            "largest_difference": (0.025, 0.03, 0.04),
            "least_difference": (5.0, 8.0, 12.0),
            "least_sunlit": (15, 20, 30),
        },
        CLOSURE,
        0.01,
    ),
    Group(
        "blame",
        {"margin": (0.04, 0.08, 0.12), "margin_by_clouds": (0.12, 0.3, 0.5)},
        (*CLOSURE, ("shade leaks 20%", "clear"), ("direct obstructed 20 %", "clear")),
        0.01,
    ),
    Group(
        "spike",
        {"least_height": (15.0, 20.0, 30.0), "times_spread": (4.0, 6.0, 8.0)},
        tuple(
            (f"{q} spike {h} W m⁻²", "steady")
            for q in ("global", "diffuse", "direct")
            for h in (50, 100)
        ),
        0.005,
    ),
    Group(
        "frost",
        {"least_loss": (0.02, 0.03, 0.05), "least_humidity": (0.8, 0.85, 0.9), "window": (10, 20)},
        (("frost or dew on the global dome at dawn", "any"),),
        0.003,
    ),
)


@dataclass(frozen=True)
class Placed:
    """One placement: its block, the fault, the minutes with it, and those affected."""

    block: int
    fault: injected_faults.Fault
    minutes: Minutes
    hit: dict[str, np.ndarray]


def found_by(minutes: Minutes, settings: FlagSettings, fault: injected_faults.Fault) -> np.ndarray:
    """Minutes in which the fault's own bits fall."""
    kept = {name: value for name, value in minutes.kept.items() if name in SHARED}
    seen = replace(minutes, settings=settings, kept=kept)
    out = np.zeros(minutes.ds.sizes["time"], bool)
    for test in CATALOGUE:
        for quantity in fault.quantities if test.name in fault.own else ():
            verdict = test.judge(seen, quantity) if quantity in test.quantities else None
            out |= False if verdict is None else verdict[1]
    return out


def faults_of(group: Group) -> dict[str, injected_faults.Fault]:
    """The faults that a group is asked for."""
    asked = {name for name, _ in group.asked}
    return {f.name: f for f in injected_faults.FAULTS if f.name in asked}


def placements(
    ds: xr.Dataset, period: Period, group: Group, blocks: np.ndarray, options: argparse.Namespace
) -> Iterator[Placed]:
    """Placements of every fault in every block."""
    skies = bench_qc.sky_classes(ds, period.altitude)
    skies["any"] = np.ones(ds.sizes["time"], bool)
    rng = np.random.default_rng(options.seed)
    for fault in faults_of(group).values():
        possible = fault.may_start(ds)
        for number in range(int(blocks.max()) + 1):
            starts = np.flatnonzero((blocks == number) & possible)
            for start in rng.choice(starts, options.placements) if starts.size else ():
                case = bench_qc.put_in(ds, skies, fault, int(start), rng)
                changed = bench_qc.affected_minutes(case["before"], case["after"])
                hit = fault.hit(case["before"], changed, case["inside"])
                minutes = minutes_view(case["after"], period)
                _ = minutes.sky, minutes.whole_sky  # once for all settings
                here = {sky: hit & inside for sky, inside in case["skies"].items()}
                yield Placed(number, fault, minutes, here)


@dataclass
class Counts:
    """Found and affected minutes by block and what is asked; alarms and daylight by block."""

    found: np.ndarray
    affected: np.ndarray
    alarms: np.ndarray
    daylight: np.ndarray

    def shares(self, blocks: np.ndarray) -> tuple[np.ndarray, float]:
        """Found share of each that is asked, and the share of alarms."""
        affected = self.affected[blocks].sum(axis=0)
        found = np.where(
            affected > 0, self.found[blocks].sum(axis=0) / np.maximum(affected, 1), np.nan
        )
        return found, float(self.alarms[blocks].sum() / self.daylight[blocks].sum())

    def worth(self, blocks: np.ndarray, largest: float) -> float:
        """What a choice is worth on some blocks: the mean share found, if alarms are rare."""
        found, alarms = self.shares(blocks)
        return float(np.nanmean(found)) if alarms <= largest else -1.0


def counts_of(
    group: Group, choice: dict[str, Any], placed: list[Placed], whole: Minutes, blocks: np.ndarray
) -> Counts:
    """Everything counted for one choice; `blocks` is -1 where nothing counts."""
    own = getattr(FlagSettings(), group.name).model_copy(update=choice)
    settings = whole.settings.model_copy(update={group.name: own})
    size = int(blocks.max()) + 1
    found, affected = np.zeros((size, len(group.asked))), np.zeros((size, len(group.asked)))
    for case in placed:
        got = found_by(case.minutes, settings, case.fault)
        for column, (name, sky) in enumerate(group.asked):
            if name == case.fault.name:
                found[case.block, column] += (got & case.hit[sky]).sum()
                affected[case.block, column] += case.hit[sky].sum()
    day = (blocks >= 0) & (whole["solar_zenith_angle"] < 90)
    flagged = [found_by(whole, settings, fault) for fault in faults_of(group).values()]
    alarms = np.bincount(blocks[day], np.logical_or.reduce(flagged)[day], size)
    return Counts(found, affected, alarms, np.bincount(blocks[day], minlength=size))


def said(group: Group, found: np.ndarray, alarms: float) -> str:
    """Shares in words."""
    parts = [f"{n}, {s} {v:.1%}" for (n, s), v in zip(group.asked, found, strict=True)]
    return "; ".join([*parts, f"natural {alarms:.2%}"])


def left_out_in_turn(group: Group, counted: list[Counts], every: np.ndarray) -> list[int]:
    """Print what each block's choice by the others finds in it; returns the choices."""
    picks = []
    for left in every:
        others = every[every != left]
        picks.append(int(np.argmax([c.worth(others, group.alarms) for c in counted])))
    joined = Counts(
        *(
            np.zeros_like(getattr(counted[0], n))
            for n in ("found", "affected", "alarms", "daylight")
        )
    )
    for block, pick in enumerate(picks):
        for name in ("found", "affected", "alarms", "daylight"):
            getattr(joined, name)[block] = getattr(counted[pick], name)[block]
    print(f"  left out in turn: {said(group, *joined.shares(every))}")
    return picks


def blocks_of(ds: xr.Dataset, name: str) -> np.ndarray:
    """Number of each minute's three-day block, -1 where it does not count."""
    allowed = bench_qc.allowed_starts(ds, "all", name)
    return np.where(allowed, (bench_qc.days_of(ds) - 1) // 3, -1)


def tune(group: Group, months: dict[str, tuple[xr.Dataset, Period]], options: Any) -> None:
    """Print everything about one group."""
    ds, period = months["real"]
    blocks, whole = blocks_of(ds, "real"), minutes_view(ds, period)
    placed = list(placements(ds, period, group, blocks, options))
    choices, every = group.choices(), np.arange(int(blocks.max()) + 1)
    counted = [counts_of(group, choice, placed, whole, blocks) for choice in choices]
    print(f"{group.name}: {len(placed)} placements, {len(choices)} choices", flush=True)
    picks = left_out_in_turn(group, counted, every)
    best = int(np.argmax([c.worth(every, group.alarms) for c in counted]))
    times = sum(pick == best for pick in picks)
    print(f"  choice of all blocks, and of {times} of {len(picks)} left out: {choices[best]}")
    set_now = {name: getattr(getattr(FlagSettings(), group.name), name) for name in group.grid}
    for title, choice in (("chosen", choices[best]), ("as set", set_now)):
        shares = counts_of(group, choice, placed, whole, blocks).shares(every)
        print(f"  {title}: {said(group, *shares)}")
    for name in (n for n in months if n != "real"):
        ds, period = months[name]
        blocks, whole = blocks_of(ds, name), minutes_view(ds, period)
        placed = list(placements(ds, period, group, blocks, options))
        every = np.arange(int(blocks.max()) + 1)
        for title, choice in (("chosen", choices[best]), ("as set", set_now)):
            shares = counts_of(group, choice, placed, whole, blocks).shares(every)
            print(f"  {name}, {title}: {said(group, *shares)}", flush=True)


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").strip().splitlines()[0])
    parser.add_argument("--placements", type=int, default=4)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--only", default="", help="the group of this name")
    options = parser.parse_args()
    months = {"real": bench_qc.month("real", options.seed)}
    months |= {f"{name} {seed}": bench_qc.month(name, seed) for name, seed in OTHERS}
    for group in GROUPS:
        if options.only in group.name:
            tune(group, months, options)


if __name__ == "__main__":
    main()
