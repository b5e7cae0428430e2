"""
Prints what the flags find: fault models put into a real month and generated months.

Run with `python tests/benchmarks/bench_qc.py`; `--placements N` a fault, `--seed N`, `--blocks
even|odd|all`, `--month real|osr|kpn`. The limits were chosen on the even three-day blocks of the
real month and on generated months of seeds 7 to 33; `bench_qc_tuning.py` chooses them again with
each block left out in turn. Published are the odd blocks and generated months, with seeds used for
nothing else; `--month osr --seed 52,53` pools several. A fault counts as found only by its own bit,
in a minute that it changes by more than 5 W m-2 and 2 %.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

REPOSITORY = Path(__file__).resolve().parents[2]
# A script as well: the generator and the fault models lie outside the package.
sys.path[:0] = [str(REPOSITORY / "sample_raw"), str(REPOSITORY / "tests")]

import injected_faults  # noqa: E402
import real_month  # noqa: E402
import truth  # noqa: E402
from sunledger.config.models.base import parse_utc  # noqa: E402
from sunledger.config.resolve import Period  # noqa: E402
from sunledger.physics.clear_sky import clear_sky  # noqa: E402
from sunledger.physics.windows import rolling_any, rolling_range  # noqa: E402
from sunledger.run.job import Choice, prepare, run  # noqa: E402
from sunledger.run.making import minutes_of  # noqa: E402
from sunledger.stages.qc_flag import qc_flag  # noqa: E402
from sunledger.vocabulary import CONDITIONS, TESTS, mask_of  # noqa: E402

FOUR = ("ghi", "dhi", "dni", "lwd")
MARGIN = 14 * 60
"""Minutes before and after a placement that are flagged with it."""
NATURAL_DAYS = {"real": (6, 10)}
"""Days of the real month whose direct is faulty."""
SKIES = ("clear", "partly", "overcast", "steady")


def month(name: str, seed: int) -> tuple[xr.Dataset, Period]:
    """Minutes of a month without injected faults, and what they were made with."""
    with tempfile.TemporaryDirectory() as text:
        folder = Path(text)
        if name == "real":
            workflow, station, days = real_month.write_project(folder), "pay", 30
            start = parse_utc("2016-06-01")
        else:
            days, station = 24, name
            workflow = truth.plan_of(folder, name, days, seed, faults=False)
            start = parse_utc(truth.STARTS[name])
        run(workflow, Choice(), lambda *_: None)
        context = prepare(workflow, Choice()).context
        return minutes_of(context, context.station(station), start, start + days * 86400)


def sky_classes(ds: xr.Dataset, altitude: float) -> dict[str, np.ndarray]:
    """Clear, partly cloudy and overcast minutes, from the untouched values."""
    zenith, direct = ds["solar_zenith_angle"].values, ds["dni"].values.astype(float)
    bound, expected = clear_sky(zenith, ds["extraterrestrial_irradiance"].values, altitude)
    clear = (direct > 0.75 * bound) & (ds["dhi"].values < 0.25 * ds["ghi"].values)
    overcast = (direct < 2) & (ds["dhi"].values > 80)
    partly = rolling_any(direct > 120, 30) & ~clear & (zenith < 85)
    steady = rolling_range(ds["ghi"].values.astype(float), 10) < 0.1 * expected
    sorted_ = {"clear": clear & (zenith < 85), "partly": partly, "overcast": overcast & ~partly}
    return sorted_ | {"steady": steady & (zenith < 85)}


@dataclass
class Tally:
    """Affected and found minutes of one fault."""

    affected: dict[str, int] = field(default_factory=lambda: dict.fromkeys(SKIES, 0))
    found: dict[str, int] = field(default_factory=lambda: dict.fromkeys(SKIES, 0))
    any_flag: int = 0
    all_found: int = 0
    all_affected: int = 0
    named: dict[str, int] = field(default_factory=lambda: dict.fromkeys(TESTS, 0))
    delays: list[int] = field(default_factory=list)
    placements: int = 0

    def join(self, other: Tally) -> None:
        """Add what was counted on another month."""
        for mine, theirs in (
            (self.affected, other.affected),
            (self.found, other.found),
            (self.named, other.named),
        ):
            for key, number in theirs.items():
                mine[key] += number
        self.any_flag += other.any_flag
        self.all_found += other.all_found
        self.all_affected += other.all_affected
        self.delays += other.delays
        self.placements += other.placements


def words(ds: xr.Dataset) -> np.ndarray:
    """Flag words of the four quantities."""
    return np.stack([ds[f"{q}_flags"].values for q in FOUR])


def affected_minutes(before: xr.Dataset, after: xr.Dataset) -> np.ndarray:
    """Minutes that a fault changes by more than 5 W m-2 and 2 % in some quantity."""
    out = np.zeros(before.sizes["time"], bool)
    for quantity in FOUR:
        was, is_ = (x[quantity].values.astype(float) for x in (before, after))
        out |= np.abs(is_ - was) > np.maximum(5.0, 0.02 * np.abs(was))
    return out


def add(tally: Tally, fault: injected_faults.Fault, case: dict[str, Any]) -> None:
    """Count one placement."""
    changed = affected_minutes(case["before"], case["after"])
    hit = fault.hit(case["before"], changed, case["inside"])
    got = words(case["flagged"])
    own = np.zeros(hit.size, bool)
    for quantity in fault.quantities:
        own |= (got[FOUR.index(quantity)] & mask_of(TESTS, *fault.own)) != 0
    other = ~np.int32(mask_of(TESTS, "below_horizon_profile", "zenith_changes_fast"))
    tally.placements += 1
    tally.all_affected += int(hit.sum())
    tally.all_found += int((hit & own).sum())
    tally.any_flag += int((((got & other) != 0).any(axis=0) & hit).sum())
    for name, bit in TESTS.items():
        tally.named[name] += int((((got & bit.mask) != 0).any(axis=0) & hit).sum())
    for sky, inside in case["skies"].items():
        tally.affected[sky] += int((hit & inside).sum())
        tally.found[sky] += int((hit & inside & own).sum())
    if (hit & own).any():
        tally.delays.append(int(np.argmax(hit & own) - np.argmax(hit)))


def days_of(ds: xr.Dataset) -> np.ndarray:
    """Number of the day of each minute, from 1."""
    time = ds["time"].values
    return (time - time[0]) // 86400 + 1


def allowed_starts(ds: xr.Dataset, blocks: str, name: str) -> np.ndarray:
    """Minutes of the chosen three-day blocks, without the days that are faulty by themselves."""
    day = days_of(ds)
    block = (day - 1) // 3
    keep = np.ones(day.size, bool) if blocks == "all" else block % 2 == (blocks == "odd")
    return keep & ~np.isin(day, NATURAL_DAYS.get(name, ()))


def natural(ds: xr.Dataset, period: Period, keep: np.ndarray) -> dict[str, float]:
    """Share of daylight minutes that are flagged although nothing was injected."""
    out = qc_flag(ds, period)
    day = keep & (ds["solar_zenith_angle"].values < 90)
    got = words(out)[:, day]
    grade = np.stack([out[f"{q}_grade"].values for q in FOUR])[:, day]
    rules = period.processing.qc_flag.grades
    doubts = {c for r in rules if r.grade in ("questionable", "bad") for c in r.conditions}
    conditions = np.stack([out[f"{q}_conditions"].values for q in FOUR])[:, day]
    recorded = (conditions & mask_of(CONDITIONS, *doubts)) != 0  # not the flags' doing
    judged = np.where(recorded, 1, grade)
    closure = mask_of(TESTS, "components_disagree", "components_disagree_for_long")
    alone = (got & closure != 0) & (judged == 3) & (got & ~np.int32(closure) == 0)
    return {
        "questionable or worse": float(np.isin(judged, (3, 4)).any(axis=0).mean()),
        "tracker": float((got & TESTS["tracker_off_sun"].mask != 0).any(axis=0).mean()),
        "closure": float(alone.any(axis=0).mean()),
        "bad": float((judged == 4).any(axis=0).mean()),
    }


def own_faults(ds: xr.Dataset, period: Period) -> str:
    """What is said of the days on which the real month's own direct is faulty."""
    out = qc_flag(ds, period)
    value = {q: ds[q].values.astype(float) for q in FOUR}
    day = np.isin(days_of(ds), NATURAL_DAYS["real"]) & (ds["solar_zenith_angle"].values < 75)
    false = day & (value["ghi"] - value["dhi"] > 50) & (value["dni"] < 5)
    direct = out["dni_flags"].values & mask_of(TESTS, "pyrheliometer_off_sun") != 0
    others = mask_of(TESTS, "components_disagree", "shade_misaligned", "frost_or_ventilation")
    alone = direct & ((out["ghi_flags"].values | out["dhi_flags"].values) & others == 0)
    return (
        f"{int((false & alone).sum())} of {int(false.sum())} false zeros laid to the direct alone"
    )


def put_in(
    ds: xr.Dataset, skies: dict[str, np.ndarray], fault: injected_faults.Fault, start: int, rng: Any
) -> dict[str, Any]:
    """One placement: a stretch of the month before and after the fault was put in."""
    length = int(rng.integers(*fault.minutes))
    pieces = slice(max(0, start - MARGIN), min(ds.sizes["time"], start + length + MARGIN))
    before = ds.isel(time=pieces)
    begin = float(ds["time"].values[start])
    after = fault.put(before, begin, begin + 60.0 * length)
    here = {k: v[pieces] for k, v in skies.items()}
    time = before["time"].values
    inside = (time >= begin) & (time < begin + 60 * length)
    return {"before": before, "after": after, "inside": inside, "skies": here}


def score(
    ds: xr.Dataset, period: Period, keep: np.ndarray, options: argparse.Namespace, seed: int
) -> dict[str, Tally]:
    """Tally of every fault."""
    out: dict[str, Tally] = {}
    skies = sky_classes(ds, period.altitude)
    for number, fault in enumerate(injected_faults.FAULTS):
        if options.only not in fault.name:
            continue
        rng = np.random.default_rng([seed, number])
        possible = np.flatnonzero(keep & fault.may_start(ds))
        tally = out.setdefault(fault.name, Tally())
        if possible.size == 0:
            continue
        for start in rng.choice(possible, options.placements):
            case = put_in(ds, skies, fault, int(start), rng)
            add(tally, fault, case | {"flagged": qc_flag(case["after"], period)})
    return out


def percent(part: int, whole: int) -> str:
    """A share, or a dash where there is nothing to share."""
    return f"{100 * part / whole:.0f}" if whole else "–"


def table(tallies: dict[str, Tally]) -> list[str]:
    """The score in Markdown."""
    own = {f.name: f.own for f in injected_faults.FAULTS}
    rows = [
        "| fault | named by | clear | partly | overcast | steady | all | any | delay | also |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for name, t in tallies.items():
        shares = [percent(t.found[s], t.affected[s]) for s in SKIES]
        shares.append(percent(t.all_found, t.all_affected))
        delay = f"{np.median(t.delays):.0f}" if t.delays else "–"
        others = sorted(
            (
                (n, k)
                for k, n in t.named.items()
                if k not in own[name] and n > 0.05 * t.all_affected
            ),
            reverse=True,
        )
        also = ", ".join(f"`{k}` {percent(n, t.all_affected)}" for n, k in others[:3])
        bits = ", ".join(f"`{b}`" for b in own[name]) or "–"
        cells = [name, bits, *shares, percent(t.any_flag, t.all_affected), delay, also or "–"]
        rows.append(f"| {' | '.join(cells)} |")
    return rows


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--placements", type=int, default=12)
    parser.add_argument("--seed", default="7", help="one or several, by comma")
    parser.add_argument("--only", default="", help="faults with this in their name")
    parser.add_argument("--blocks", choices=("even", "odd", "all"), default="odd")
    parser.add_argument("--month", choices=("real", "osr", "kpn"), default="real")
    options = parser.parse_args()
    tallies: dict[str, Tally] = {}
    for seed in (int(s) for s in options.seed.split(",")):
        ds, period = month(options.month, seed)
        keep = allowed_starts(ds, options.blocks, options.month)
        for name, tally in score(ds, period, keep, options, seed).items():
            tallies.setdefault(name, Tally()).join(tally)
        say_natural(ds, period, options)
    total = sum(t.placements for t in tallies.values())
    print(f"{options.month}, {options.blocks} blocks, seed {options.seed}: {total} placements")
    print("\n".join(table(tallies)))


def say_natural(ds: xr.Dataset, period: Period, options: argparse.Namespace) -> None:
    """Print what is flagged although nothing was put in."""
    if options.month == "real":
        print(own_faults(ds, period))
    for blocks in dict.fromkeys((options.blocks, "all")):
        shares = natural(ds, period, allowed_starts(ds, blocks, options.month))
        print(f"natural, {blocks} blocks: " + ", ".join(f"{k} {v:.3%}" for k, v in shares.items()))


if __name__ == "__main__":
    main()
