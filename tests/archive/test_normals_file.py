"""Normals as a file and as text: digits, units, and nothing known."""

from __future__ import annotations

import numpy as np

from sunledger.archive.normals_file import NormalsNotes, Table, normals_spec, normals_text
from sunledger.archive.specification import FileSpec

NEWEST = FileSpec(
    {"title": "monthly data of Test Ridge", "id": "tst-monthly-2032", "product_version": "3"},
    {},
    (),
)
NOTES = NormalsNotes(2031, 2032, 0.8, ("tst_monthly_2031.nc version 1",))


def table(units: str, value: float, whole: str = "mean") -> Table:
    """Two years of one value, of which the second is missing."""
    months = np.array([[value] * 12, [np.nan] * 12])
    attributes = {"units": units, "long_name": "something", "standard_name": "some_name"}
    return Table(
        "thing",
        attributes,
        whole,  # type: ignore[arg-type]
        months,
        months[0],
        np.full(12, np.nan),
        np.full(12, 1),
        months - value,
        np.array([value, np.nan]),
        value,
    )


def test_units_that_a_person_reads() -> None:
    """Exposure in kWh m-2, sunshine in hours, ratios with three digits, irradiance with one."""
    for units, value, shown, unit in (
        ("J m-2", 3.6e8, "100.0", "[kWh m-2]"),
        ("s", 720000.0, "200.0", "[h]"),
        ("1", 0.61234, "0.612", "[1]"),
        ("W m-2", 188.25, "188.2", "[W m-2]"),
    ):
        text = normals_text(NEWEST, [table(units, value)], NOTES)
        row = next(line for line in text.splitlines() if line.startswith("2031"))
        assert row.split()[1] == shown
        assert unit in text


def test_nothing_known_is_a_dash() -> None:
    """A quantity without any value has neither lowest nor highest."""
    text = normals_text(NEWEST, [table("W m-2", float("nan"))], NOTES)
    lowest = next(line for line in text.splitlines() if line.startswith("lowest"))
    assert lowest.split()[1:] == ["-"] * 12
    assert "at least 2 of 2 years" in text


def test_the_file_says_what_it_is() -> None:
    """No version of one monthly file; the files it was made of."""
    spec = normals_spec(NEWEST, [table("W m-2", 5.0)], NOTES)
    assert spec.attributes["title"] == "climate normals 2031-2032 of Test Ridge"
    assert spec.attributes["id"] == "tst-normals-2031-2032"
    assert spec.attributes["product_version"] == "that of the monthly files"
    assert spec.attributes["time_coverage_end"] == "2033-01-01T00:00:00Z"
    assert spec["thing_normal"].attributes["standard_name"] == "some_name"
    assert spec["thing_normal_years"].data.tolist() == [1] * 12
    assert spec.dimensions == {"year": 2, "time": 12, "bound": 2}
