"""The file index of 10,000 daily files: making it, and finding that nothing has changed.

Run: ``python tests/benchmarks/bench_index.py [files]``. A no-change check is to take under 2 s.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

import raw_tables
from sunledger.run.file_index import load_index, save_index, update_index


def main(files: int) -> None:
    """Print how long the first index and the checks take."""
    station = raw_tables.station(main=raw_tables.logger())
    with tempfile.TemporaryDirectory() as folder:
        root, saved = Path(folder) / "raw", Path(folder) / "index.json"
        for day in range(files):
            labels = raw_tables.MARCH + 86400 * day + 3600 * np.arange(24)
            lines = raw_tables.table(labels, np.ones((24, 2)))
            name = f"{np.datetime64(int(labels[0]), 'D').astype('M8[Y]')}/day_{day:05}.txt"
            raw_tables.stored(root, name, raw_tables.joined(lines))
        begin = time.perf_counter()
        save_index(saved, update_index(root, station, "main"))
        made = time.perf_counter() - begin
        taken, worked = [], []
        for _ in range(5):
            begin, busy = time.perf_counter(), time.process_time()
            index = update_index(root, station, "main", load_index(saved))
            taken.append(time.perf_counter() - begin)
            worked.append(time.process_time() - busy)
            assert (index.added, index.changed, index.vanished) == ((), (), ())
        print(
            f"{files} files: made in {made:.1f} s; nothing changed: median"
            f" {statistics.median(taken):.2f} s, longest {max(taken):.2f} s,"
            f" of the processor {statistics.median(worked):.2f} s"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10000)
