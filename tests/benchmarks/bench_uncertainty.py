"""
Prints which share of a unit's processor time the uncertainty takes: minutes, and year files.

Run with `python tests/benchmarks/bench_uncertainty.py`; `--days N`. A month of the invented
mountain station is made from its raw files in this process under a profiler that counts processor
time; wanted is at most 15 %.
"""

from __future__ import annotations

import argparse
import cProfile
import json
import pstats
import sys
import tempfile
import time
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parents[2]
# A script as well: the generator and the fault models lie outside the package.
sys.path[:0] = [str(REPOSITORY / "sample_raw"), str(REPOSITORY / "tests")]

import truth  # noqa: E402
from sunledger.run.job import Choice, run  # noqa: E402

UNITS = {
    "minutes": ("make_minutes", ("position_uncertainties",)),
    "means": (
        "run_aggregates",
        (
            "split_of_minutes",
            "split",
            "uncertainty_sums",
            "by_days",
            "mean_uncertainty",
            "combined",
            "scaled",
            "where",
            "cut",
            "missing_in_composite",
        ),
    ),
}
"""Unit → function that makes it, and those that are spent on the uncertainty alone."""
WHERE = ("uncertain_minutes.py", "mean_uncertainty.py", "error_sources.py")


def profiled(days: int) -> dict[tuple[str, str], float]:
    """Processor time with all that is called, by file and function. [s]"""
    with tempfile.TemporaryDirectory() as folder:
        path, _ = truth.generated(Path(folder), "osr", days, 5)
        plan = json.loads(path.read_text(encoding="utf-8"))
        plan |= {"stages": [*plan["stages"], "aggregate"], "workers": 1}
        path.write_text(json.dumps(plan), encoding="utf-8")
        profile = cProfile.Profile(time.process_time)
        profile.enable()
        run(path, Choice(), lambda *_: None)
        profile.disable()
    found: dict[tuple[str, str], float] = {}
    for (file, _, name), row in pstats.Stats(profile).stats.items():  # type: ignore[attr-defined]
        key = (Path(file).name, name)
        found[key] = found.get(key, 0.0) + row[3]
    return found


def main() -> None:
    """Run and print one line a unit."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=30)
    spent = profiled(parser.parse_args().days)
    for unit, (maker, parts) in UNITS.items():
        whole = sum(t for (_, name), t in spent.items() if name == maker)
        mine = sum(t for (file, name), t in spent.items() if name in parts and file in WHERE)
        print(f"{unit}: {mine:.3f} s of {whole:.3f} s, {mine / whole:.1%}")


if __name__ == "__main__":
    main()
