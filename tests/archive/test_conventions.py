"""What every file shares, judged by the public checker and by what it is known to miss."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from archive.compliance import copy_group_to_root, damaged, findings, unexpected
from archive.samples import minute_file
from sunledger.archive.conventions import (
    Place,
    at_position,
    instrument_container,
    station_variables,
    sun_angles,
    time_variables,
)
from sunledger.archive.netcdf import write_file
from sunledger.vocabulary import QUANTITIES

NAMELESS = ("clock_residual_main",)  # no standard name exists (table v93)


@pytest.fixture(scope="module")
def minute(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A minute file, written once."""
    path = tmp_path_factory.mktemp("minute") / "minute.nc"
    write_file(path, minute_file())
    return path


def test_minute_file_passes_the_checker(minute: Path) -> None:
    assert unexpected(minute, NAMELESS) == []


BROKEN: tuple[tuple[str, dict[str, object], str], ...] = (
    ("ghi", {"units": "furlong"}, "furlong"),
    ("dni", {"standard_name": "surface_sunniness"}, "surface_sunniness"),
    ("lwd", {"ancillary_variables": "no_such_variable"}, "no_such_variable"),
    ("ghi_flags", {"flag_meanings": "one two"}, "ghi_flags flag_meanings"),
    ("ghi_grade", {"flag_values": np.array([1, 1, 3, 4, 9], np.int8)}, "ghi_grade's flag_values"),
    ("air_temperature", {"units_metadata": None}, "air_temperature"),
    ("", {"time_coverage_end": "2033-01-01T00:00:00Z"}, "time_coverage_end"),
    ("", {"publisher_url": None}, "publisher_url"),
)


def test_checker_notices_what_is_broken(minute: Path, tmp_path: Path) -> None:
    """The runner passes on what the checker finds; a silent runner would prove nothing."""
    broken = minute
    for number, (variable, changes, _) in enumerate(BROKEN):
        broken = damaged(broken, tmp_path / f"{number}.nc", variable, **changes)
    told = " ".join(f"{f.check} {f.message}" for f in unexpected(broken, NAMELESS))
    assert [word for _, _, word in BROKEN if word not in told] == [], told


def test_known_finding_that_does_not_come_is_told(minute: Path) -> None:
    told = unexpected(minute, (*NAMELESS, "ghi"))
    assert [f.message for f in told] == ["not reported: standard_name"]
    assert '"ghi"' in told[0].check


def test_tables_pass_when_copied_to_the_root(minute: Path, tmp_path: Path) -> None:
    """The checker never opens groups."""
    flat = copy_group_to_root(minute, "metadata/deployment", tmp_path / "flat.nc")
    assert findings(flat, ("cf:1.11",)) == []


def test_time_bounds_touch_and_time_is_their_start() -> None:
    time, bounds = time_variables([0, 60], [60, 120], "one-minute averaging interval")
    assert np.array_equal(bounds.data, [[0, 60], [60, 120]])
    assert np.array_equal(time.data, bounds.data[:, 0])
    assert bounds.attributes == {}
    assert time.attributes["bounds"] == "time_bounds"


def test_station_is_where_it_is() -> None:
    place = {v.name: v.data for v in station_variables(Place("Karru Pan", -23.5, 15.25, 408.0))}
    assert (place["latitude"], place["longitude"], place["altitude"]) == (-23.5, 15.25, 408.0)
    assert place["station_name"] == "Karru Pan"


def test_second_position_keeps_all_but_its_name() -> None:
    second = at_position(QUANTITIES["ghi"], "global_2")
    assert (second.name, second.units, second.standard_name) == (
        "global_2",
        "W m-2",
        "surface_downwelling_shortwave_flux_in_air",
    )


def test_every_container_that_is_named_exists(minute: Path) -> None:
    with xr.open_dataset(minute) as ds:
        named = {v.attrs["instrument"] for v in ds.data_vars.values() if "instrument" in v.attrs}
        assert named == {"instrument_global_1", "instrument_direct_1", "instrument_longwave_1"}
        assert named <= set(ds.variables)
    assert instrument_container("global_1", "thermopile pyranometer").dimensions == ()


def test_angles_keep_their_values_in_single_precision() -> None:
    zenith, azimuth = sun_angles([89.99999], [359.99999])
    assert abs(float(zenith.data[0]) - 89.99999) < 1e-5
    assert abs(float(azimuth.data[0]) - 359.99999) < 2e-5
