"""Published files are found by name and manifest; no name leads out of the archive."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from archive.small import small_archive
from sunledger.archive.listing import (
    Published,
    archive_files,
    chosen,
    published,
    safe_name,
    station_folders,
)
from sunledger.archive.manifest import Manifest
from sunledger.errors import ArchiveError


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small archive."""
    return small_archive(tmp_path_factory.mktemp("listing"))


def test_superseded_files_are_not_listed(archive: Path) -> None:
    names = [p.name for p in archive_files(archive)]
    assert names == ["ossel_minute_2031-03.nc", "ossel_monthly_2031.nc"]
    assert [f.manifest.product for f in published(archive)] == ["minute", "monthly"]
    assert [p.name for p in station_folders(archive)] == ["ossel"]


def test_logger_of_a_voltage_file() -> None:
    manifest = Manifest("voltage", "osr", "2031-03", "k")
    file = Published(Path("osr_voltage_main_2_2031-03.nc"), manifest)
    assert (file.part, file.recorded_product) == ("main_2", "voltage_main_2")
    longer = Published(Path("osr_series_600_2031-03.nc"), replace(manifest, product="series"))
    assert longer.recorded_product == "series_600"


@pytest.mark.parametrize(
    ("first", "last", "count"),
    [
        ("", "", 2),
        ("2031-03", "2031-03", 2),
        ("2031-04", "2031-05", 1),
        ("2032", "", 0),
        ("", "2030", 0),
        ("2031", "2031", 2),
    ],
)
def test_period(archive: Path, first: str, last: str, count: int) -> None:
    if count:
        assert len(chosen(archive, "ossel", (), first, last)) == count
    else:
        with pytest.raises(ArchiveError, match="holds nothing of ossel that fits"):
            chosen(archive, "ossel", (), first, last)


@pytest.mark.parametrize("name", ["../x", "/etc", "a/b", "", "..", "a..b", "A", "x%y", ".hidden"])
def test_names_that_lead_elsewhere_are_refused(name: str) -> None:
    with pytest.raises(ArchiveError, match="is no name in an archive"):
        safe_name(name)
