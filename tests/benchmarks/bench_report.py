"""Pages: time and size of each station and month of an archive, of the network, of the sheets.

Run with PYTHONPATH=pipeline: python tests/benchmarks/bench_report.py ARCHIVE, such as the one of
workflows/sample.sh. Wanted: under 10 s and under 5 MB a page. Each is made by a process of its own,
as by the command; processor time counts the start of Python and the libraries.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

WORKFLOW = Path(__file__).resolve().parents[2] / "workflows" / "sample.yaml"


def timed(words: list[str], output: Path) -> None:
    """Run a command that writes one page, and print what it took."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    wall = time.perf_counter()
    command = [sys.executable, "-m", "sunledger.cli", *words, "--output", str(output)]
    subprocess.run(command, check=True, capture_output=True)
    wall = time.perf_counter() - wall
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    size = output.stat().st_size / 1e6
    what = " ".join(w for w in words if "/" not in w)
    print(f"{what}: {wall:.1f} s, {cpu:.1f} s of processor time, {size:.2f} MB", flush=True)


def main() -> None:
    """Every month of every station, the newest of the network, the sheets."""
    archive = Path(sys.argv[1])
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "page.html"
        minutes = sorted(archive.glob("*/minute/*_minute_????-??.nc"))
        for path in minutes:
            timed(["report", str(archive), path.parts[-3], path.stem[-7:]], page)
        newest = max(p.stem[-7:] for p in minutes)
        timed(["network", str(archive), newest], page)
        for station in sorted({p.parts[-3] for p in minutes}):
            timed(["visit", "sheet", str(WORKFLOW), station, "--archive", str(archive)], page)


if __name__ == "__main__":
    main()
