"""Completeness, grades, flags and daily means of a month, counted by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from archive.samples import minute_file
from archive.small import small_archive
from sunledger.archive.catalog_facts import month_facts, page_link
from sunledger.archive.listing import published


def test_facts_of_two_days(tmp_path: Path) -> None:
    (minute, _) = published(small_archive(tmp_path))
    facts = month_facts(minute)
    assert facts.sha256 == minute.manifest.file_sha256
    assert list(facts.completeness) == ["ghi", "dni", "lwd"]  # the vocabulary's order
    assert facts.completeness["ghi"] == pytest.approx(2879 / 2880, abs=1e-4)
    assert facts.grades["ghi"] == {"good": round(2878 / 2880, 4), "missing": round(2 / 2880, 4)}
    assert facts.flags["ghi"] == {"below_horizon_profile": round(1 / 2880, 4)}
    first = 1.25 * minute_file(days=2)["ghi"].data[:1440].astype(float)
    assert facts.days["ghi"][0] == pytest.approx(float(np.nanmean(first)), abs=0.06)
    assert len(facts.days["ghi"]) == 2


def test_link_is_relative_and_quoted() -> None:
    link = page_link(Path("/x/site/a/index.html"), Path("/x/data/b c#1.nc"))
    assert link == "../../data/b%20c%231.nc"
