"""Shared by the physics tests: published tables and the tolerance their digits allow."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

PUBLISHED = Path(__file__).parents[1] / "published"


@pytest.fixture
def published() -> Callable[[str], list[dict[str, str]]]:
    """Return a reader of tables in tests/published, cells as printed."""

    def read(name: str) -> list[dict[str, str]]:
        lines = (PUBLISHED / name).read_text(encoding="utf-8").splitlines()
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))

    return read


@pytest.fixture
def half_unit() -> Callable[[str], float]:
    """Return half a unit of the last digit of a number as printed."""

    def half(text: str) -> float:
        decimals = len(text.partition(".")[2])
        return 0.5 * 10.0**-decimals

    return half
