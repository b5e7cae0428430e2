"""Catalogue of 50 stations x 20 years: first writing and the next, from one invented minute file.

Run: PYTHONPATH=pipeline:tests python tests/benchmarks/bench_catalog.py [STATIONS] [YEARS]
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from archive.samples import minute_file
from archive.small import accounting
from sunledger.archive.catalog import write_catalog
from sunledger.archive.digest import file_sha256
from sunledger.archive.manifest import InputFile, Manifest, write_manifest
from sunledger.archive.netcdf import write_file


def build(archive: Path, stations: int, years: int) -> int:
    """Link one month of minutes into every month; manifests as long as real ones."""
    spec = minute_file(days=31)
    source = archive.parent / "month.nc"
    write_file(source, spec)
    said, raised = accounting(spec)
    inputs = tuple(InputFile(f"raw/main_{n:03}.csv.gz", "a" * 64, 12) for n in range(62))
    manifest = Manifest(
        "minute", "x", "2031-03", "k", inputs, accounting=said, flags_raised=raised,
        file_sha256=file_sha256(source), size=source.stat().st_size,
    )  # fmt: skip
    for number in range(stations):
        name = f"s{number:02}"
        folder = archive / name / "minute"
        folder.mkdir(parents=True)
        for year in range(2011, 2011 + years):
            for month in range(1, 13):
                period = f"{year}-{month:02}"
                path = folder / f"{name}_minute_{period}.nc"
                os.link(source, path)
                write_manifest(path, replace(manifest, station=name, period=period))
    return stations * years * 12


def main() -> None:
    """Time the first writing, the second, and one after a change of a month."""
    stations, years = (int(word) for word in (*sys.argv[1:], "50", "20")[:2])
    with tempfile.TemporaryDirectory() as folder:
        archive = Path(folder) / "archive"
        count = build(archive, stations, years)
        for words in ("first", "second"):
            start = time.perf_counter()
            written = write_catalog(archive)
            took = time.perf_counter() - start
            print(f"{words}: {took:.1f} s for {count} months, {len(written)} files written")
        pages = sum(p.stat().st_size for p in (archive / "catalog").rglob("*.html"))
        print(f"{pages / stations / 1e3:.0f} kB a station's page")


if __name__ == "__main__":
    main()
