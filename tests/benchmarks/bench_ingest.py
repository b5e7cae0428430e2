"""Reading a station-year of one-minute data against a plain `pandas.read_csv` of the same file.

Run: ``python tests/benchmarks/bench_ingest.py [days]``. Prints the ratio of the medians of
interleaved rounds, of wall and of processor time, for a clean file and for one with 0.1 % bad
lines. The aims are 1.5 and 1.6.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from sunledger.config.models.station import Channel, Layout, Logger, TimeStamp
from sunledger.stages.streams import RawFile, read_pieces
from sunledger.stages.tables import Table, TableReader, join_tables

COLUMNS = tuple(f"signal_{i:02d}" for i in range(20))
FORMAT = "%Y-%m-%d %H:%M:%S"
ROUNDS = 7
SPOILED = ("", "?", "1_0", "nan", "--", "\x00", "1.5.5", "0x1f")


def logger() -> Logger:
    """A logger with twenty numeric columns."""
    layout = Layout(time=TimeStamp(columns=("stamp",), format=FORMAT), missing=("gone",))
    return Logger(
        serial_number="NL-1",
        files=("*.txt",),
        layouts=(layout,),
        utc_offset="+00:00",
        interval=60,
        label="end",
        channels=tuple(Channel(column=c, unit="1", status=c) for c in COLUMNS),
    )


def write(path: Path, days: int, bad_share: float) -> list[int]:
    """Write a table; return the numbers of its bad lines, from 1."""
    rng = np.random.default_rng(7)
    rows = 1440 * days
    times = np.datetime64("2031-01-01T00:00:00") + 60 * np.arange(rows)
    stamps = [t.replace("T", " ") for t in np.datetime_as_string(times).tolist()]
    bad = np.sort(rng.choice(rows, int(rows * bad_share), replace=False))
    spoiled = set(bad.tolist())
    with path.open("w", newline="") as out:
        out.write(f"stamp,{','.join(COLUMNS)}\n")
        for row in range(rows):
            fields = [f"{v:.5f}" for v in rng.normal(0, 5, len(COLUMNS)).tolist()]
            if row % 997 == 0:
                fields[row % len(fields)] = "gone"
            if row in spoiled:
                fields[row % len(fields)] = SPOILED[row % len(SPOILED)]
            out.write(f"{stamps[row]},{','.join(fields)}\n")
    return (bad + 2).tolist()


def plain(path: Path) -> pd.DataFrame:
    """What a plain script would do."""
    return pd.read_csv(path, na_values=["gone"], parse_dates=["stamp"], index_col="stamp")


def ours(path: Path) -> Table:
    """Open, check, digest and read the same file, as the ingest stage does."""
    made = logger()
    reader = TableReader(made.layouts, made, path)
    raw = RawFile(path, path.name)
    return join_tables([reader.read(piece) for piece in read_pieces(raw)])


def seconds(work: Callable[[Path], object], path: Path) -> tuple[float, float]:
    """Wall time and processor time (of all threads) of one call."""
    begin, busy = time.perf_counter(), time.process_time()
    work(path)
    return time.perf_counter() - begin, time.process_time() - busy


def ratio(clean: Path, path: Path, rounds: int = ROUNDS) -> list[tuple[float, float]]:
    """Medians of reading ``path`` and of plainly reading the clean file: wall, then processor."""
    pairs = [(seconds(ours, path), seconds(plain, clean)) for _ in range(rounds)]
    return [
        (statistics.median(a[i] for a, _ in pairs), statistics.median(b[i] for _, b in pairs))
        for i in range(2)
    ]


def main(days: int) -> None:
    """Print both ratios, and whether every bad line was named and no good one."""
    with tempfile.TemporaryDirectory() as folder:
        clean, dirty = Path(folder) / "clean.txt", Path(folder) / "dirty.txt"
        write(clean, days, 0.0)
        bad = write(dirty, days, 0.001)
        named = [rejection.line for rejection in ours(dirty).rejected]
        print(
            f"{days} days, {clean.stat().st_size / 1e6:.0f} MB, {len(bad)} bad lines, "
            f"named exactly: {named == bad}"
        )
        for name, path in (("clean", clean), ("0.1 % bad", dirty)):
            for kind, (mine, theirs) in zip(("wall", "processor"), ratio(clean, path), strict=True):
                print(
                    f"{name}, {kind}: {mine:.2f} s, plain read {theirs:.2f} s,"
                    f" ratio {mine / theirs:.2f}"
                )


def test_every_bad_line_of_a_larger_file_is_named(tmp_path: Path) -> None:
    """The benchmark's own data, three days of it, without a clock."""
    bad = write(tmp_path / "dirty.txt", 3, 0.01)
    table = ours(tmp_path / "dirty.txt")
    assert [rejection.line for rejection in table.rejected] == bad
    assert len(table.label_time) == 3 * 1440 - len(bad)
    expected = plain(tmp_path / "dirty.txt").index.astype("datetime64[s]").astype("int64")
    assert np.isin(table.label_time, expected).all()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 365)
