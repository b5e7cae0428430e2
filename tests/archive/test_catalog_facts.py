"""Completeness, grades, flags and daily means of a month, counted by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from archive.samples import minute_file
from archive.small import small_archive
from sunledger.archive.catalog_facts import month_facts, page_link
from sunledger.archive.findings_file import FindingsFile, findings_path, write_findings
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


def test_findings_of_the_month(tmp_path: Path) -> None:
    """None where no diagnosis was made or its file is damaged; else in words, in their order."""
    (minute, _) = published(small_archive(tmp_path))
    assert month_facts(minute).findings is None
    path = findings_path(minute.path.parents[1], minute.manifest.period)
    row = {
        "name": "level_step", "target": "global_1", "size": 0.91234, "unit": "degree",
        "lower": 0.7, "upper": 1.1, "action": "level it <now>", "cannot_tell": [],
    }  # fmt: skip
    write_findings(path, FindingsFile({"period": minute.manifest.period}, (row,)))
    assert month_facts(minute).findings == [
        "level step (global_1): 0.912 degree (0.7 to 1.1); level it <now>"
    ]
    path.write_bytes(path.read_bytes().replace(b"0.91", b"0.81"))
    assert month_facts(minute).findings is None
