"""
Prints what one more day of an open month costs, beside making the month so far afresh.

Run with `python tests/benchmarks/bench_daily.py`; `--days N` (default 28), `--rounds N`. One
station of 20 columns of minutes, one raw file a day. Both runs happen in this process, so that
neither pays for imports; processor time is the figure where the machine is shared.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

REPOSITORY = Path(__file__).resolve().parents[2]
# A script as well: the helpers lie among the tests.
sys.path[:0] = [str(REPOSITORY / "pipeline"), str(REPOSITORY / "tests")]
sys.path.insert(0, str(Path(__file__).parent))

import bench_station_year  # noqa: E402

import small_project  # noqa: E402
from sunledger.run.job import Choice, run  # noqa: E402

MONTH = "2031-05"


def write_days(folder: Path) -> Path:
    """A project whose raw files of the month are cut into days."""
    workflow = bench_station_year.write_project(folder, [MONTH])
    (whole,) = (folder / "raw").glob("*.csv")
    head, *lines = whole.read_text().splitlines(keepends=True)
    whole.unlink()
    of_day: dict[str, list[str]] = {}
    for line in lines:
        of_day.setdefault(line[:10], []).append(line)
    for day, some in of_day.items():
        (folder / "raw" / f"all_{day}.csv").write_text(head + "".join(some))
    return workflow


def timed(workflow: Path, archive: Path, day: int) -> tuple[float, float]:
    """Wall and processor time of a run in which days before this one are over. [s]"""
    as_of = f"{MONTH}-{day:02}"
    small_project.edit(workflow, "workflow", lambda w: w.update(as_of=as_of))
    wall, cpu = time.perf_counter(), time.process_time()
    _, outcomes = run(workflow, Choice(archive=archive, workers=1), lambda *_: None)
    assert {o.done for o in outcomes} <= {"written", "unchanged"}
    return time.perf_counter() - wall, time.process_time() - cpu


def main() -> None:
    """Print both, and their ratio."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").strip().splitlines()[0])
    parser.add_argument("--days", type=int, default=28)
    parser.add_argument("--rounds", type=int, default=3)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        workflow = write_days(folder / "project")
        last = folder / "project" / "raw" / f"all_{MONTH}-{asked.days:02}.csv"
        for later in sorted(last.parent.iterdir()):
            if later.name > last.name:
                later.unlink()
        shutil.move(last, folder / last.name)
        timed(workflow, folder / "kept", asked.days)
        shutil.copy2(folder / last.name, last)
        ratios = []
        for number in range(asked.rounds):
            shutil.copytree(folder / "kept", folder / f"kept_{number}")
            day = timed(workflow, folder / f"kept_{number}", asked.days + 1)
            month = timed(workflow, folder / f"afresh_{number}", asked.days + 1)
            ratios.append(day[1] / month[1])
            print(
                f"one more day {day[0]:.2f} s, {day[1]:.2f} s processor; {asked.days} days afresh"
                f" {month[0]:.2f} s, {month[1]:.2f} s processor; ratio {ratios[-1]:.2f}",
                flush=True,
            )
        print(f"median ratio of processor time {median(ratios):.2f}")


if __name__ == "__main__":
    main()
