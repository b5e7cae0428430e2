"""
Prints how the archive compares with the generator's truth over many seeds.

Run with `python tests/benchmarks/bench_truth.py`; `--seeds N`, `--days N`, `--station osr|kpn`.
Asked for: outside flagged minutes at least 95 % within the stated uncertainty, and a mean bias
over the seeds of at most 0.3 of it.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

import numpy as np

REPOSITORY = Path(__file__).resolve().parents[2]
# A script as well: the generator and the fault models lie outside the package.
sys.path[:0] = [str(REPOSITORY / "sample_raw"), str(REPOSITORY / "tests")]

import truth  # noqa: E402


def main() -> None:
    """Run and print one line a station and quantity."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--days", type=int, default=22)
    parser.add_argument("--station", choices=[*truth.FOLDERS], action="append")
    asked = parser.parse_args()
    for station in asked.station or truth.FOLDERS:
        scores: dict[str, list[truth.Score]] = {q: [] for q in truth.QUANTITIES}
        for seed in range(100, 100 + asked.seeds):
            with tempfile.TemporaryDirectory() as folder:
                ds, true = truth.archive_of(Path(folder), station, asked.days, seed)
            for quantity, rows in scores.items():
                rows.append(truth.score(ds, true, quantity))
        for quantity, rows in scores.items():
            within = np.array([r.within for r in rows])
            bias = np.mean([r.bias for r in rows])
            ratio = bias / np.mean([r.uncertainty for r in rows])
            print(
                f"{station} {quantity}: {sum(r.minutes for r in rows):,} minutes, within stated"
                f" uncertainty {within.mean():.3%} (least seed {within.min():.3%}), mean bias"
                f" {bias:+.2f} W m-2 = {ratio:+.3f} of it",
                flush=True,
            )


if __name__ == "__main__":
    main()
