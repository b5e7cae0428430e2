"""Single altered bytes in an archive: how many of 1,000 seeded trials `verify` finds, and how fast.

Run: PYTHONPATH=pipeline:tests:sample_raw python tests/benchmarks/bench_verify.py [ARCHIVE]
Without an archive a small invented one is built. The archive is copied; the original is untouched.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import numpy as np

from sunledger.archive.verify import verify

TRIALS = 1000
SEED = 20310301


def kind_of(path: Path) -> str:
    """Kind of file, by its ending."""
    kinds = {".nc": "data", ".json": "manifest", ".jsonl": "change record"}
    return kinds.get(path.suffix, "change pages")


def one_trial(archive: Path, path: Path, rng: np.random.Generator) -> bool:
    """Alter one byte, verify, put it back; whether the altered file was named."""
    whole = path.read_bytes()
    place, bits = int(rng.integers(len(whole))), int(rng.integers(1, 256))
    path.write_bytes(whole[:place] + bytes([whole[place] ^ bits]) + whole[place + 1 :])
    found = {finding.path for finding in verify(archive, content=False)}
    path.write_bytes(whole)
    return str(path.relative_to(archive)) in found


def trials(archive: Path) -> tuple[Counter[str], Counter[str]]:
    """Trials made and bytes found, by kind of file; each kind gets its turn."""
    rng = np.random.default_rng(SEED)
    by_kind: dict[str, list[Path]] = {}
    for path in sorted(p for p in archive.rglob("*") if p.is_file()):
        if ".sunledger" not in path.parts and "catalog" not in path.parts:
            by_kind.setdefault(kind_of(path), []).append(path)
    made: Counter[str] = Counter()
    found: Counter[str] = Counter()
    kinds = sorted(by_kind)
    for number in range(TRIALS):
        kind = kinds[number % len(kinds)]
        path = by_kind[kind][int(rng.integers(len(by_kind[kind])))]
        made[kind] += 1
        found[kind] += one_trial(archive, path, rng)
    return made, found


def main() -> None:
    """Build or copy an archive, and print what was found."""
    with tempfile.TemporaryDirectory() as folder:
        archive = Path(folder) / "archive"
        if len(sys.argv) > 1:
            shutil.copytree(sys.argv[1], archive)
        else:
            from archive.small import small_archive

            small_archive(archive)
        size = sum(p.stat().st_size for p in archive.rglob("*.nc"))
        for content in (False, True):
            start = time.perf_counter()
            findings = verify(archive, content)
            words = "bytes and contents" if content else "bytes only"
            took = time.perf_counter() - start
            print(f"{words}: {took:.2f} s for {size / 1e6:.1f} MB, {len(findings)} findings")
        start = time.perf_counter()
        made, found = trials(archive)
        for kind in sorted(made):
            print(f"{kind}: {found[kind]} of {made[kind]} altered bytes found")
        print(f"{sum(found.values())} of {TRIALS} in {time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
