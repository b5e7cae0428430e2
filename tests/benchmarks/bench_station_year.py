"""
Prints what a station-year of 20 columns of minutes costs, beside a plain script that does less.

Run with `python tests/benchmarks/bench_station_year.py`; `--months N` for less or more than a year,
`--rounds N`. The same raw files go through `plain_script.py` and through a run of one worker, in
processes of their own, in turn. Also printed: nothing changed, one changed month, and two
workers. Where the machine is shared, processor time is the figure to compare.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

REPOSITORY = Path(__file__).resolve().parents[2]
# A script as well: the helpers lie among the tests.
sys.path[:0] = [str(REPOSITORY / "pipeline"), str(REPOSITORY / "tests")]

import invented  # noqa: E402
import real_month  # noqa: E402
import small_project  # noqa: E402

POSITIONS = ("global_1", "diffuse_1", "direct_1", "sky_1")
STATISTICS = (("", "mean"), ("_min", "min"), ("_max", "max"), ("_std", "std"))


def month_table(month: str) -> pd.DataFrame:
    """A month of 20 columns: the published June, repeated, with a little noise of its own."""
    first = pd.Timestamp(f"{month}-01")
    rows = first.days_in_month * 1440
    published = real_month.published()
    table = published.iloc[np.arange(rows) % len(published)].reset_index(drop=True)
    noise = np.random.default_rng(12 * first.year + first.month).normal(1, 1e-4, rows)
    stamps = pd.date_range(first + pd.Timedelta(minutes=61), periods=rows, freq="min")
    out = {"stamp": stamps.strftime("%Y-%m-%d %H:%M:%S")}
    body = table["temp_air"].to_numpy() + 273.15
    for position in POSITIONS:
        quantity = invented.QUANTITY[position]
        for ending, word in STATISTICS:
            value = table[quantity + ending].to_numpy() * noise
            if position == "sky_1" and word != "std":
                value = value - 5.670374419e-8 * body**4
            out[f"{position}_{word}"] = value * invented.SENSITIVITY[position] / 1000
    out |= {"tb": body, "ta": table["temp_air"].to_numpy(), "mode": np.ones(rows)}
    out["supply"] = np.full(rows, 12.6) * noise
    return pd.DataFrame(out)


def logger() -> dict[str, object]:
    """One logger of twenty columns."""
    stamp = {"columns": ["stamp"], "format": "%Y-%m-%d %H:%M:%S"}
    supply = {"column": "supply", "status": "supply_voltage", "unit": "V"}
    return invented.logger(
        POSITIONS,
        serial_number="NR-LG-all",
        files=["all_*.csv"],
        layouts=[{"time": stamp, "missing": [""]}],
        channels=[*invented.channels(POSITIONS), supply],
    )


def write_project(folder: Path, months: list[str]) -> Path:
    """A project of one station and logger; returns its workflow."""
    past = int(months[-1][:4]) + 1
    workflow = small_project.write_project(folder, days=(), as_of=f"{past}-06-01")
    for month in months:
        name = f"all_{month.replace('-', '')}.csv"
        month_table(month).to_csv(folder / "raw" / name, index=False, float_format="%.5f")
    small_project.edit(workflow, "station/station", lambda s: s.update(loggers={"all": logger()}))
    shade = {"diffuse_1": "disc", "sky_1": "disc"}
    entries = [invented.deployment(p, shade=shade.get(p, "none")) for p in POSITIONS]
    entries.append(small_project.clock("ck-1", "all", "2030-12-10", 0))
    small_project.edit(workflow, "station/fieldlog", lambda f: f.update(entries=entries))
    inventory = [invented.instrument(p) for p in POSITIONS]
    inventory.append({"serial_number": "NR-LG-all", "kind": "logger"})
    small_project.edit(workflow, "station/instruments", lambda i: i.update(instruments=inventory))
    return workflow


def timed(words: list[str]) -> tuple[float, float]:
    """Wall and processor time of a process with its children. [s]"""
    paths = os.pathsep.join(p for p in sys.path if p)
    environment = {**os.environ, "PYTHONPATH": paths}
    before, begin = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    done = subprocess.run(words, env=environment, capture_output=True, text=True, check=False)
    wall, after = time.perf_counter() - begin, resource.getrusage(resource.RUSAGE_CHILDREN)
    if done.returncode:
        raise SystemExit(done.stderr + done.stdout)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return wall, cpu


def run(workflow: Path, archive: Path, *words: str) -> tuple[float, float]:
    """Wall and processor time of a run."""
    command = [sys.executable, "-m", "sunledger.cli", "run", str(workflow)]
    return timed([*command, "--archive", str(archive), *words])


def said(name: str, times: tuple[float, float], beside: tuple[float, float]) -> None:
    """Print times and their ratios."""
    ratios = [a / b for a, b in zip(times, beside, strict=True)]
    print(
        f"{name}: {times[0]:.2f} s wall, {times[1]:.2f} s processor;"
        f" ratios {ratios[0]:.3f} and {ratios[1]:.3f}",
        flush=True,
    )


def main() -> None:
    """Print all figures."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").strip().splitlines()[0])
    parser.add_argument("--months", type=int, default=12)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--brief", action="store_true", help="only the script and one worker")
    asked = parser.parse_args()
    months = [f"{2031 + m // 12}-{m % 12 + 1:02}" for m in range(asked.months)]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        workflow = write_project(folder / "project", months)
        script = str(Path(__file__).with_name("plain_script.py"))
        for number in range(asked.rounds):
            output = folder / f"plain_{number}"
            output.mkdir()
            raw = str(folder / "project" / "raw")
            plain = timed([sys.executable, script, raw, str(output)])
            one = run(workflow, archive := folder / f"archive_{number}", "--workers", "1")
            said("plain script", plain, plain)
            said("pipeline, one worker, beside the script", one, plain)
        if asked.brief:
            return
        said("two workers beside one", run(workflow, folder / "two", "--workers", "2"), one)
        said("nothing changed beside all", run(workflow, archive, "--workers", "1"), one)
        note = small_project.cleaning("cl-1", f"{months[-1]}-15 12:00")
        small_project.note(workflow, note)
        said("one changed month beside all", run(workflow, archive, "--workers", "1"), one)


if __name__ == "__main__":
    main()
