"""
Prints memory and time of a month of readings by the second, beside the same month by the minute.

Run with `python tests/benchmarks/bench_seconds.py`; `--days N` for less than a month, `--daily` for
one raw file a day instead of one a month, `--workers N`, `--wide` for twenty columns. Eight columns
are four radiometers, body and air temperature, a status, the supply; twenty have the least, the
greatest and the deviation of each radiometer as well. Each run is a process of its own; its peak is
that of the largest process in it. Invented data.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import polars as pl

REPOSITORY = Path(__file__).resolve().parents[2]
# A script as well: the helpers lie among the tests.
sys.path[:0] = [str(REPOSITORY / "pipeline"), str(REPOSITORY / "tests")]

import invented  # noqa: E402
import real_month  # noqa: E402
import small_project  # noqa: E402

POSITIONS = ("global_1", "diffuse_1", "direct_1", "sky_1")
MONTH = "2031-06"
STAMP = "%Y-%m-%d %H:%M:%S"
STEFAN_BOLTZMANN = 5.670374419e-8  # W m-2 K-4


WITHIN = {"min": 0.999, "max": 1.001, "std": 0.0005}
"""Statistics within an interval, as a factor of its mean."""


def day_table(day: int, interval: int, wide: bool) -> pl.DataFrame:
    """A day of the published June by the second or the minute, with a little noise of its own."""
    published = real_month.published().iloc[day * 1440 : (day + 1) * 1440]
    seconds = np.arange(0, 86400, interval)
    noise = np.random.default_rng(day).normal(1.0, 1e-4, (len(POSITIONS), seconds.size))

    def at(name: str) -> np.ndarray:
        return np.interp(seconds, np.arange(1440) * 60 + 30, published[name].to_numpy())

    body = at("temp_air") + 273.15
    labels = np.datetime64(f"{MONTH}-01T01:00:00") + day * np.timedelta64(86400, "s")
    out = {"stamp": (labels + (seconds + interval).astype("m8[s]")).astype("M8[ms]")}
    for position, factor in zip(POSITIONS, noise, strict=True):
        value = at(invented.QUANTITY[position]) * factor
        if position == "sky_1":
            value = value - STEFAN_BOLTZMANN * body**4
        mean = value * invented.SENSITIVITY[position] / 1000
        out[f"{position}_mean"] = mean
        out |= {f"{position}_{word}": abs(mean) * by for word, by in WITHIN.items() if wide}
    out |= {"tb": body, "ta": at("temp_air"), "mode": np.ones(seconds.size)}
    out["supply"] = np.full(seconds.size, 12.6) * noise[0]
    return pl.DataFrame(out, nan_to_null=True)


def write_raw(folder: Path, interval: int, asked: argparse.Namespace) -> None:
    """Raw files of a month, one a day or one in all."""
    form = {"datetime_format": STAMP, "float_precision": 5}
    for day in range(asked.days):
        path = folder / (f"all_{day:02}.csv" if asked.daily else "all_00.csv")
        with path.open("ab") as file:
            header = asked.daily or day == 0
            day_table(day, interval, asked.wide).write_csv(
                file, null_value="", include_header=header, **form
            )  # type: ignore[arg-type]


def write_project(folder: Path, interval: int, asked: argparse.Namespace) -> Path:
    """A project of one logger; returns its workflow."""
    workflow = small_project.write_project(folder, days=(), as_of="2031-08-01")
    write_raw(folder / "raw", interval, asked)
    supply = {"column": "supply", "status": "supply_voltage", "unit": "V"}
    rows = [*invented.channels(POSITIONS), supply]
    logger = invented.logger(
        POSITIONS,
        serial_number="NR-LG-all",
        files=["all_*.csv"],
        interval=interval,
        layouts=[{"time": {"columns": ["stamp"], "format": STAMP}, "missing": [""]}],
        channels=[row for row in rows if asked.wide or row.get("statistic", "mean") == "mean"],
    )
    small_project.edit(workflow, "station/station", lambda s: s.update(loggers={"all": logger}))
    shade = {"diffuse_1": "disc", "sky_1": "disc"}
    entries = [invented.deployment(p, shade=shade.get(p, "none")) for p in POSITIONS]
    entries.append(small_project.clock("ck-1", "all", "2031-05-10", 0))
    small_project.edit(workflow, "station/fieldlog", lambda f: f.update(entries=entries))
    inventory = [invented.instrument(p) for p in POSITIONS]
    inventory.append({"serial_number": "NR-LG-all", "kind": "logger"})
    small_project.edit(workflow, "station/instruments", lambda i: i.update(instruments=inventory))
    return workflow


def timed(workflow: Path, archive: Path, workers: int) -> tuple[float, float, float]:
    """Wall and processor time of a run [s], and the peak of its largest process. [MB]"""
    script = (
        "import resource, subprocess, sys;"
        "code = subprocess.call(sys.argv[1:], stdout=subprocess.DEVNULL);"
        "used = resource.getrusage(resource.RUSAGE_CHILDREN);"
        "print(code, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)"
    )
    words = [sys.executable, "-m", "sunledger.cli", "run", str(workflow)]
    words += ["--archive", str(archive), "--workers", str(workers)]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    begin = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", script, *words], env=environment, capture_output=True, text=True
    )
    wall = time.perf_counter() - begin
    code, processor, peak = done.stdout.split()[-3:]
    if code != "0":
        raise SystemExit(done.stderr + done.stdout)
    return wall, float(processor), float(peak)


def main() -> None:
    """Print all figures."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").strip().splitlines()[0])
    parser.add_argument("--days", type=int, default=30)
    parser.add_argument("--daily", action="store_true", help="one raw file a day")
    parser.add_argument("--wide", action="store_true", help="twenty columns")
    parser.add_argument("--workers", type=int, default=1)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        for interval in (60, 1):
            folder = Path(name) / f"every_{interval}"
            workflow = write_project(folder, interval, asked)
            size = sum(f.stat().st_size for f in (folder / "raw").iterdir()) / 1e6
            wall, processor, peak = timed(workflow, folder / "archive", asked.workers)
            held = sum(f.stat().st_size for f in (folder / "archive").rglob("*.nc")) / 1e6
            print(
                f"every {interval} s: raw {size:.0f} MB, archive {held:.0f} MB; {wall:.1f} s wall,"
                f" {processor:.1f} s processor, peak {peak:.0f} MB",
                flush=True,
            )


if __name__ == "__main__":
    main()
