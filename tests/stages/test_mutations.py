"""Five hundred damaged files of the mutation benchmark; ten thousand by its script."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchmarks import bench_mutations


@pytest.mark.slow
@pytest.mark.parametrize("first", range(0, 500, 50))
def test_damaged_files(tmp_path: Path, first: int) -> None:
    """No crash, every line accounted for, no undamaged line lost; truncated compression too."""
    for seed in range(first, first + 50):
        try:
            bench_mutations.attack(seed, tmp_path)
        except Exception as error:
            raise AssertionError(f"seed {seed}: {type(error).__name__}: {error}") from error
