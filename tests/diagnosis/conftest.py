"""Months of minutes for diagnosis: generated ones and the published one."""

from __future__ import annotations

import numpy as np
import pytest

import real_month
from generated_month import generated_month
from sunledger.diagnosis.selection import Components

CUT = 15 * 86400


@pytest.fixture(scope="session")
def dry_month() -> Components:
    """Karru Pan in August, nothing wrong."""
    return generated_month("kpn", 11, "2031-08-01")


@pytest.fixture(scope="session")
def published_month() -> Components:
    """The real month (cited in tests/published)."""
    table = real_month.published()
    middle = table.index.astype("datetime64[s]").astype("int64").to_numpy() + 30.0
    parts = (table[q].to_numpy(float) for q in ("ghi", "dhi", "dni"))
    return Components(middle, 60, *parts, np.ones(middle.size, bool), 46.815, 6.944, 491.0)
