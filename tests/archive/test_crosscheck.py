"""Hours follow from minutes, days from hours, lines add up; what does not is named."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sunledger.archive.crosscheck import (
    day_faults,
    hour_faults,
    key_faults,
    line_faults,
    minute_faults,
    product_faults,
)
from sunledger.archive.listing import Published, published
from sunledger.archive.netcdf import read_file, write_file


@pytest.fixture(scope="module")
def files(sample_folder: Path) -> dict[str, dict[str, Published]]:
    """Files of the northern station, by product and period."""
    out: dict[str, dict[str, Published]] = {}
    for file in published(sample_folder / "build" / "sample_archive" / "osr"):
        out.setdefault(file.recorded_product, {})[file.manifest.period] = file
    return out


def altered(file: Published, folder: Path, name: str, place: int, step: float) -> Published:
    """A copy in which one value is another."""
    spec = read_file(file.path)
    data = spec[name].data.copy()
    data[place] += data.dtype.type(step)
    variables = tuple(replace(v, data=data) if v.name == name else v for v in spec.variables)
    path = folder / file.path.name
    write_file(path, replace(spec, variables=variables))
    return replace(file, path=path)


def test_products_of_the_sample_agree(files: dict[str, dict[str, Published]]) -> None:
    assert list(product_faults(files)) == []


def strong_hour(file: Published) -> int:
    """An hour with a full mean of global irradiance."""
    return int(np.nanargmax(read_file(file.path)["ghi"].data))


@pytest.mark.parametrize("step", [2.0**-5, -1.0])
def test_hour_that_does_not_follow_from_the_minutes(
    files: dict[str, dict[str, Published]], tmp_path: Path, step: float
) -> None:
    hourly = files["hourly"]["2031"]
    wrong = altered(hourly, tmp_path, "ghi", strong_hour(hourly), step)
    ((path, why),) = hour_faults(wrong, files["minute"])
    assert path == wrong.path
    assert why.startswith("ghi at 2031-")
    assert "(1 such periods)" in why


def test_count_of_an_hour(files: dict[str, dict[str, Published]], tmp_path: Path) -> None:
    hourly = files["hourly"]["2031"]
    name = "ghi_number_of_observations"
    wrong = altered(hourly, tmp_path, name, strong_hour(hourly), -1)
    assert any("counts 59, but 60 follows" in why for _, why in hour_faults(wrong, files["minute"]))


def test_day_that_does_not_follow_from_the_hours(
    files: dict[str, dict[str, Published]], tmp_path: Path
) -> None:
    daily, hourly = files["daily"]["2031"], files["hourly"]["2031"]
    assert list(day_faults(daily, hourly)) == []
    full = read_file(daily.path)
    hours = read_file(hourly.path)
    by_day = hours["lwd"].data.reshape(-1, 24)
    usable = np.isfinite(by_day).all(axis=1) & np.isfinite(full["lwd"].data)
    assert usable.any()
    wrong = altered(daily, tmp_path, "lwd", int(np.flatnonzero(usable)[0]), 0.1)
    assert [why.split()[0] for _, why in day_faults(wrong, hourly)] == ["lwd"]


def test_lines_and_minutes_must_be_as_many_as_the_manifest_says(
    files: dict[str, dict[str, Published]],
) -> None:
    voltage = files["voltage_main"]["2031-04"]
    said = voltage.manifest.accounting
    more = replace(voltage.manifest, accounting={**said, "repeated": said["repeated"] + 1})
    ((_, why),) = line_faults(replace(voltage, manifest=more))
    assert f"but {said['data_lines']} data lines were read" in why
    minute = files["minute"]["2031-04"]
    fewer = {**minute.manifest.accounting, "minutes": 43199, "grades": {"ghi": {"good": 1}}}
    changed = replace(minute.manifest, accounting=fewer, flags_raised={})
    why = " ".join(w for _, w in minute_faults(replace(minute, manifest=changed)))
    assert "minutes: 43200 in the file, the manifest says 43199" in why
    assert "grades: air_pressure: {" in why
    assert "ghi: flags are not as many" in why


def test_year_of_other_minutes(files: dict[str, dict[str, Published]]) -> None:
    minute = files["minute"]["2031-04"]
    other = replace(minute, manifest=replace(minute.manifest, key="0" * 64))
    ((_, why),) = key_faults(files["daily"]["2031"], {"2031-04": other})
    assert why == "was made of other minutes of 2031-04 than stand in the archive"
