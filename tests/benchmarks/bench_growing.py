"""Memory and time of a file that grows for years: index and all its months, each file read once.

Run: ``python tests/benchmarks/bench_growing.py [megabytes]``. Writes such a file of one-minute
rows with twenty columns, then indexes and ingests it in a process of its own and prints the peak
of its memory. The aim is less than 300 MB for a file of any size.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import polars as pl

import raw_tables
from benchmarks.bench_ingest import COLUMNS, FORMAT, logger
from sunledger.run.file_index import update_index
from sunledger.stages.growing import ingest_growing
from sunledger.stages.streams import RawFile

FIRST_MONTH = "2005-01"


def write(path: Path, size: int) -> int:
    """Append months until the file has the size; return their number."""
    rng = np.random.default_rng(7)
    month = np.datetime64(FIRST_MONTH, "M")
    count = 0
    with path.open("wb") as out:
        out.write(f"stamp,{','.join(COLUMNS)}\n".encode())
        while out.tell() < size:
            stamps = np.arange(
                month.astype("M8[s]"), (month + 1).astype("M8[s]"), np.timedelta64(60, "s")
            )
            table = {"stamp": stamps.astype("M8[ms]")} | {
                c: rng.normal(0, 5, len(stamps)) for c in COLUMNS
            }
            frame = pl.DataFrame(table)
            frame.write_csv(out, include_header=False, float_precision=5, datetime_format=FORMAT)
            month, count = month + 1, count + 1
    return count


def measure(root: Path) -> dict[str, float]:
    """Index and ingest everything below a folder; seconds, rows and the peak of memory [MB]."""
    station = raw_tables.station(main=logger())
    begin = time.perf_counter()
    index = update_index(root, station, "main")
    indexed = time.perf_counter()
    (file,) = index.files
    expected = {month: {file.path: lines} for month, lines in file.months.items()}
    raw = RawFile(root / file.path, file.path, file.sha256)
    rows = months = 0
    for _, ds in ingest_growing([raw], station, "main", expected):
        rows += ds.sizes["reading_main"]
        months += 1
    peak = peak_memory()
    done = time.perf_counter()
    return {
        "rows": rows, "months": months, "peak": peak,
        "index": indexed - begin, "ingest": done - indexed,
    }  # fmt: skip


def measured(folder: Path, size: int) -> dict[str, float]:
    """Write a growing file and measure it in a process of its own; every row must be there."""
    months = write(folder / "grown.txt", size)
    words = [sys.executable, __file__, "--measure", str(folder)]
    told: dict[str, float] = json.loads(
        subprocess.run(words, capture_output=True, check=True, env=environment()).stdout
    )
    last = np.datetime64(FIRST_MONTH, "M") + months
    minutes = (last.astype("M8[m]") - np.datetime64(FIRST_MONTH, "m")).astype(int)
    assert (told["months"], told["rows"]) == (months, minutes)
    return told


def peak_memory() -> float:
    """
    Peak of this process's own memory. [MB]

    The resource usage of a process keeps the peak of the one that started it, so that a large
    parent would be measured in its place; the memory map's own mark does not.
    """
    status = Path("/proc/self/status").read_text(encoding="utf-8")
    mark = next(line for line in status.splitlines() if line.startswith("VmHWM:"))
    return int(mark.split()[1]) / 1000


def environment() -> dict[str, str]:
    """Of the process that is measured: it finds these files and the package."""
    return dict(os.environ) | {"PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}


def main(megabytes: int) -> None:
    """Print what the process with the file took."""
    with tempfile.TemporaryDirectory() as folder:
        told = measured(Path(folder), megabytes * 10**6)
        print(
            f"{megabytes} MB, {told['months']:.0f} months, {told['rows']:.0f} rows:"
            f" index {told['index']:.1f} s, ingest {told['ingest']:.1f} s,"
            f" peak memory {told['peak']:.0f} MB"
        )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--measure"]:
        print(json.dumps(measure(Path(sys.argv[2]))))
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
