"""The catalogue of many stations and years: written first, with nothing new, with one new month.

Run with PYTHONPATH=pipeline:tests:sample_raw: python tests/benchmarks/bench_catalog.py [STATIONS]
[YEARS]. Each month is a small invented minute file with a manifest as long as those of the sample
job, since manifests decide the cost.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from archive.small import small_archive
from sunledger.archive.catalog import write_catalog
from sunledger.archive.manifest import checked_manifest, write_manifest


def many(folder: Path, stations: int, years: int) -> Path:
    """An archive of copies of one month, each with a manifest of its own."""
    small = small_archive(folder / "small") / "ossel"
    source = small / "minute" / "ossel_minute_2031-03.nc"
    rows = {f"row {n}": {"number": n / 7, "text": "x" * 40, "list": [n] * 5} for n in range(300)}
    manifest = replace(checked_manifest(source), resolved_configuration=rows)
    archive = folder / "archive"
    for number in range(stations):
        station = f"s{number:03}"
        minutes = archive / station / "minute"
        minutes.mkdir(parents=True)
        shutil.copy(small / "changes.jsonl", archive / station / "changes.jsonl")
        for month in range(12 * years):
            period = f"{2011 + month // 12}-{month % 12 + 1:02}"
            path = minutes / f"{station}_minute_{period}.nc"
            path.hardlink_to(source)
            write_manifest(path, replace(manifest, station=station, period=period))
    return archive


def timed(what: str, archive: Path) -> None:
    """Write the catalogue and print what it took."""
    wall, cpu = time.perf_counter(), time.process_time()
    written = write_catalog(archive)
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    print(f"{what}: {len(written)} files, {wall:.1f} s, {cpu:.1f} s of processor time")


def main() -> None:
    """Build, write, write again."""
    stations = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    years = int(sys.argv[2]) if len(sys.argv) > 2 else 20
    with tempfile.TemporaryDirectory() as folder:
        archive = many(Path(folder), stations, years)
        print(f"{stations} stations, {12 * stations * years} months")
        timed("first", archive)
        timed("nothing new", archive)
        path = next(archive.rglob("*_minute_2011-01.nc"))
        write_manifest(path, replace(checked_manifest(path), version=3))
        timed("one month new", archive)


if __name__ == "__main__":
    main()
