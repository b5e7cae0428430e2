"""
Prints what one changed month costs in a station of many years, beside making all of them.

Run with `python tests/benchmarks/bench_changed_month.py`; `--years N` for fewer than twenty. The
years are made cheaply: one logger of five columns (means of global, diffuse and direct, air
temperature and a status), each month the published June repeated with a little noise of its own.
Everything is then made by one worker; after that nothing is changed, one July in the middle gets
another raw file (the direct 0.1 % higher), and one gets a note of a cleaning, each by a process of
its own, so that start and imports count. Asked for: one changed month below 1/100 of the full run.
Where the machine is shared, processor time is the figure to compare.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

import pandas as pd

REPOSITORY = Path(__file__).resolve().parents[2]
# A script as well: the helpers lie among the tests.
sys.path[:0] = [str(REPOSITORY / "pipeline"), str(REPOSITORY / "tests")]

import bench_station_year as station_year  # noqa: E402
from bench_station_year import run, said  # noqa: E402

import invented  # noqa: E402
import small_project  # noqa: E402

POSITIONS = ("global_1", "diffuse_1", "direct_1")
COLUMNS = ["stamp", *(f"{p}_mean" for p in POSITIONS), "ta", "mode"]


def month_file(workflow: Path, month: str) -> Path:
    """Raw file of a month."""
    return workflow.parent / "raw" / f"all_{month.replace('-', '')}.csv"


def written(workflow: Path, month: str, direct: float = 1.0) -> None:
    """Write the raw file of a month, its direct times a factor."""
    table: pd.DataFrame = station_year.month_table(month)[COLUMNS]
    table["direct_1_mean"] *= direct
    table.to_csv(month_file(workflow, month), index=False, float_format="%.5f")


def write_project(folder: Path, months: list[str]) -> Path:
    """A project of one station and logger; returns its workflow."""
    past = int(months[-1][:4]) + 1
    workflow = small_project.write_project(folder, days=(), as_of=f"{past}-06-01")
    for month in months:
        written(workflow, month)
    stamp = {"columns": ["stamp"], "format": "%Y-%m-%d %H:%M:%S"}
    air = {"column": "ta", "quantity": "air_temperature", "unit": "degC"}
    logger = invented.logger(
        POSITIONS,
        serial_number="NR-LG-all",
        files=["all_*.csv"],
        layouts=[{"time": stamp, "missing": [""]}],
        channels=[*(c for c in invented.channels(POSITIONS) if c["column"] in COLUMNS), air],
    )
    small_project.edit(workflow, "station/station", lambda s: s.update(loggers={"all": logger}))
    shade = {"diffuse_1": "disc"}
    entries = [invented.deployment(p, shade=shade.get(p, "none")) for p in POSITIONS]
    entries += [
        small_project.clock(f"ck-{year}", "all", f"{year}-12-10", 0)
        for year in range(int(months[0][:4]) - 1, past)
    ]
    small_project.edit(workflow, "station/fieldlog", lambda f: f.update(entries=entries))
    inventory = [invented.instrument(p) for p in POSITIONS]
    inventory.append({"serial_number": "NR-LG-all", "kind": "logger"})
    small_project.edit(workflow, "station/instruments", lambda i: i.update(instruments=inventory))
    return workflow


def main() -> None:
    """Print all figures."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").strip().splitlines()[0])
    parser.add_argument("--years", type=int, default=20)
    asked = parser.parse_args()
    months = [f"{2031 + m // 12}-{m % 12 + 1:02}" for m in range(12 * asked.years)]
    middle = months[12 * (asked.years // 2) + 6]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        workflow = write_project(folder / "project", months)
        archive = folder / "archive"
        one = ("--workers", "1")
        whole = run(workflow, archive, *one)
        said(f"all {len(months)} months", whole, whole)
        said("nothing changed beside all", run(workflow, archive, *one), whole)
        written(workflow, middle, 1.001)
        said(f"{middle} changed beside all", run(workflow, archive, *one), whole)
        small_project.note(workflow, small_project.cleaning("cl-1", f"{middle}-20 12:00"))
        said(f"a note in {middle} beside all", run(workflow, archive, *one), whole)


if __name__ == "__main__":
    main()
