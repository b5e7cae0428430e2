"""An archived value leads back to its readings, by another route than it came."""

from __future__ import annotations

import gzip
from dataclasses import replace
from pathlib import Path

import netCDF4
import numpy as np
import pytest
import xarray as xr

from sunledger.config.resolve import ResolvedLogger
from sunledger.errors import ArchiveError
from sunledger.run.minutes import source_of
from sunledger.run.tracing import readings_of, trace
from sunledger.vocabulary import QUANTITIES

RAW = Path(__file__).parents[2] / "sample_raw" / "raw"


def instant(text: str) -> int:
    """Seconds of a UTC time."""
    return int(np.datetime64(text, "s").astype(int))


@pytest.fixture(scope="module")
def archive(sample_folder: Path) -> Path:
    """The sample job's archive."""
    return sample_folder / "build" / "sample_archive"


@pytest.mark.parametrize("quantity", ["ghi", "dhi", "dni", "lwd"])
@pytest.mark.parametrize(
    ("station", "when"),
    [
        ("osr", "2031-04-11T10:17:59"),
        ("osr", "2031-04-01T00:00"),
        ("osr", "2031-04-30T23:59"),
        ("kpn", "2031-04-20T11:00"),
    ],
    ids=["inside", "first minute", "last minute", "southern station"],
)
def test_made_again_as_archived(archive: Path, station: str, when: str, quantity: str) -> None:
    """Also at the seams of a month, where the neighbours stand in other files."""
    found = trace(archive, station, quantity, instant(when))
    path = archive / station / "minute" / f"{station}_minute_2031-04.nc"
    with netCDF4.Dataset(path) as data:
        place = int(np.searchsorted(data["time"][:], instant(when), side="right")) - 1
        assert found.archived[quantity] == float(data[quantity][place])
        assert found.archived[f"{quantity}_flags"] == int(data[f"{quantity}_flags"][place])
    assert found.again == pytest.approx(
        found.archived[quantity], abs=QUANTITIES[quantity].resolution
    )
    assert (
        int(found.minutes[f"{quantity}_flags"].values[found.place])
        == found.archived[f"{quantity}_flags"]
    )
    assert found.rows.size == 1


def test_value_from_the_raw_text_by_hand(archive: Path) -> None:
    """The line that the trace names, read and divided without anything of the project."""
    found = trace(archive, "osr", "dni", instant("2031-04-20T11:00"))
    row = int(found.rows[0])
    file, line = (
        int(found.logged[f"{n}_beam"].values[row]) for n in ("source_file", "source_line")
    )
    name, _ = source_of(archive, found.period, found.logger, file)
    text = gzip.decompress((RAW / name).read_bytes()).decode("latin-1")
    header, fields = (text.splitlines()[n].split(",") for n in (0, line - 1))
    voltage = float(fields[header.index("sun_mean")])
    (sensitivity,) = (
        c.sensitivity_points[0][1] for c in found.period.coefficients if c.position == "direct_1"
    )
    assert found.archived["dni"] == pytest.approx(1000 * voltage / sensitivity, rel=2e-3)


def test_missing_minute_has_no_reading(archive: Path) -> None:
    found = trace(archive, "osr", "ghi", instant("2031-04-02T12:54"))
    assert np.isnan(found.archived["ghi"])
    assert np.isnan(found.again)
    assert found.rows.size == 0


@pytest.mark.parametrize(
    ("station", "quantity", "when", "why"),
    [
        ("osr", "swu", "2031-04-11", "measures no such quantity; allowed: ghi"),
        ("osr", "ghi", "2035-04-11", "holds nothing of osr"),
        ("nowhere", "ghi", "2031-04-11", "holds nothing of nowhere"),
        ("../osr", "ghi", "2031-04-11", "is no name in an archive"),
    ],
)
def test_what_the_archive_does_not_hold(
    archive: Path, station: str, quantity: str, when: str, why: str
) -> None:
    with pytest.raises(ArchiveError, match=why):
        trace(archive, station, quantity, instant(when))


def test_fast_readings_of_one_minute() -> None:
    """All that are pooled into it, by their middles; a conflicting line is none of them."""
    logger = ResolvedLogger("fast", 0, 10, "start", (), ())
    start = np.arange(0.0, 240.0, 10.0) - 3.0
    status = np.zeros(start.size, np.int8)
    status[9] = 1
    readings = xr.Dataset(
        {
            "start_time_fast": ("reading_fast", start),
            "line_status_fast": ("reading_fast", status),
            "logger_time_fast": ("reading_fast", start.astype(np.int64)),
        }
    )
    grid = np.arange(0, 240, 60, dtype=np.int64)
    rows = readings_of(readings, logger, grid, 60, 1)
    middles = start[rows] + 5
    assert ((middles >= 60) & (middles < 120)).all()
    assert rows.size == 5  # six, less the conflicting one
    slow = replace(logger, interval=60)
    assert readings_of(readings, slow, grid, 60, 3).size == 1
