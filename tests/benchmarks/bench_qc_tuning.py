"""
Prints what the settings of a stopped tracker find where they were not chosen.

Run with `python tests/benchmarks/bench_qc_tuning.py`; `--placements N` a block, `--seed N`. The
real month is cut into blocks of three days. Each block in turn is left out, the settings that find
most minutes of partly cloudy sky on the others are chosen from a grid, and what they find in the
block left out is counted. Chosen is only what finds 99 % of clear minutes and raises at most
`LARGEST_ALARM` natural alarms on the blocks it is chosen on. The days on which the month's own
direct is faulty count neither way.
"""

from __future__ import annotations

import argparse
import itertools
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import xarray as xr

REPOSITORY = Path(__file__).resolve().parents[2]
# A script as well: the generator and the fault models lie outside the package.
sys.path[:0] = [str(REPOSITORY / f) for f in ("sample_raw", "tests", "tests/benchmarks")]

import bench_qc  # noqa: E402

import injected_faults  # noqa: E402
from sunledger.config.models.flagging import TrackerSettings  # noqa: E402
from sunledger.config.resolve import Period  # noqa: E402
from sunledger.stages.qc_flag import minutes_view  # noqa: E402
from sunledger.stages.qc_pointing import tracker_off_sun  # noqa: E402
from sunledger.stages.qc_view import Minutes  # noqa: E402

GRID = {
    "bright_share": (0.7, 0.75, 0.8),
    "least_step": (0.08, 0.15),
    "least_bright": (0.15, 0.2, 0.3),
    "least_dark": (0.9, 0.95),
    "window": (20, 30),
}
LARGEST_ALARM = 0.003
"""Half of what is allowed."""
SKIES = ("clear", "partly")


@dataclass
class Counts:
    """Found and affected minutes by block and sky; alarms and daylight minutes by block."""

    found: np.ndarray
    affected: np.ndarray
    alarms: np.ndarray
    daylight: np.ndarray

    def shares(self, blocks: np.ndarray) -> tuple[float, float, float]:
        """Found share of clear and of partly cloudy minutes, share of alarms."""
        found = self.found[blocks].sum(axis=0) / np.maximum(self.affected[blocks].sum(axis=0), 1)
        alarms = self.alarms[blocks].sum() / self.daylight[blocks].sum()
        return float(found[0]), float(found[1]), float(alarms)


def off_sun(minutes: Minutes, settings: TrackerSettings) -> np.ndarray:
    """Where these settings hold the tracker to be off the sun."""
    flagging = minutes.settings.model_copy(update={"tracker": settings})
    kept = {name: value for name, value in minutes.kept.items() if name in ("sky", "whole_sky")}
    verdict = tracker_off_sun(replace(minutes, settings=flagging, kept=kept), "dni")
    assert verdict is not None
    return verdict[1]


def placements(
    ds: xr.Dataset, period: Period, options: argparse.Namespace
) -> list[tuple[int, Minutes, dict[str, np.ndarray]]]:
    """Block, minutes with the fault, and affected minutes by sky, of every placement."""
    (fault,) = [f for f in injected_faults.FAULTS if f.name == "tracker stopped"]
    rng = np.random.default_rng(options.seed)
    allowed, block = bench_qc.allowed_starts(ds, "all", "real"), (bench_qc.days_of(ds) - 1) // 3
    out = []
    for number in np.unique(block):
        possible = np.flatnonzero(allowed & (block == number) & fault.may_start(ds))
        for start in rng.choice(possible, options.placements):
            case = bench_qc.placed(ds, period, fault, int(start), rng)
            changed = bench_qc.affected_minutes(case["before"], case["after"])
            hit = fault.hit(case["before"], changed, case["inside"])
            minutes = minutes_view(case["after"], period)
            _ = minutes.whole_sky  # once for all settings
            out.append((int(number), minutes, {s: hit & case["skies"][s] for s in SKIES}))
    return out


def counts_of(
    settings: TrackerSettings,
    placed: list[tuple[int, Minutes, dict[str, np.ndarray]]],
    whole: Minutes,
    blocks: np.ndarray,
) -> Counts:
    """Everything counted for one choice of settings; `blocks` is -1 where nothing counts."""
    size = int(blocks.max()) + 1
    found, affected = np.zeros((size, 2)), np.zeros((size, 2))
    for block, minutes, hit in placed:
        off = off_sun(minutes, settings)
        for column, sky in enumerate(SKIES):
            found[block, column] += (off & hit[sky]).sum()
            affected[block, column] += hit[sky].sum()
    day = (blocks >= 0) & (whole["solar_zenith_angle"] < 90)
    alarms = np.bincount(blocks[day], off_sun(whole, settings)[day], size)
    return Counts(found, affected, alarms, np.bincount(blocks[day], minlength=size))


def chosen(all_counts: list[Counts], blocks: np.ndarray) -> int:
    """Which choice is best on some blocks."""
    shares = [c.shares(blocks) for c in all_counts]
    worth = [p if c >= 0.99 and a <= LARGEST_ALARM else -1.0 for c, p, a in shares]
    return int(np.argmax(worth))


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--placements", type=int, default=30)
    parser.add_argument("--seed", type=int, default=5)
    options = parser.parse_args()
    ds, period = bench_qc.month("real", options.seed)
    whole = minutes_view(ds, period)
    blocks = np.where(
        bench_qc.allowed_starts(ds, "all", "real"), (bench_qc.days_of(ds) - 1) // 3, -1
    )
    placed = placements(ds, period, options)
    rows = [dict(zip(GRID, row, strict=True)) for row in itertools.product(*GRID.values())]
    grid = [TrackerSettings.model_validate(row) for row in rows]
    counted = [counts_of(settings, placed, whole, blocks) for settings in grid]
    every = np.arange(int(blocks.max()) + 1)
    picks = [chosen(counted, every[every != left]) for left in every]
    left_out = [
        getattr(counted[k], n)[b] for n in ("found", "affected") for b, k in enumerate(picks)
    ]
    found, affected = np.sum(left_out[: every.size], axis=0), np.sum(left_out[every.size :], axis=0)
    alarms = sum(counted[k].alarms[b] for b, k in enumerate(picks)) / counted[0].daylight.sum()
    print(f"{len(placed)} placements, {len(grid)} choices of settings")
    for block, pick in enumerate(picks):
        clear, partly, alarm = counted[pick].shares(every[block : block + 1])
        print(f"block {block}: {rows[pick]} clear {clear:.1%} partly {partly:.1%} {alarm:.2%}")
    clear, partly = found / affected
    print(f"left out in turn: clear {clear:.1%}, partly cloudy {partly:.1%}, alarms {alarms:.2%}")
    clear, partly, alarm = counts_of(TrackerSettings(), placed, whole, blocks).shares(every)
    print(f"as set: clear {clear:.1%}, partly cloudy {partly:.1%}, natural alarms {alarm:.2%}")


if __name__ == "__main__":
    main()
