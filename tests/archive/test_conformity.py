"""What breaks a convention is named, above all what common checkers do not look at."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from archive.samples import hourly_file, minute_file, monthly_file, voltage_file, with_attributes
from sunledger.archive.conformity import conformity_faults
from sunledger.archive.specification import FileSpec


@pytest.mark.parametrize("spec", [minute_file(), hourly_file(), monthly_file(), voltage_file()])
def test_sound_files_have_no_fault(spec: FileSpec) -> None:
    assert conformity_faults(spec) == []


def broken(name: str, attribute: str, value: object) -> FileSpec:
    """A minute file with one attribute changed, or taken away."""
    spec = minute_file()
    attributes = {**spec[name].attributes, attribute: value}
    if value is None:
        del attributes[attribute]
    variables = tuple(
        replace(v, attributes=attributes) if v.name == name else v for v in spec.variables
    )
    return replace(spec, variables=variables)


MASKS = minute_file()["ghi_flags"].attributes["flag_masks"]
DOUBLED = np.concatenate([np.asarray(MASKS)[:-1], np.asarray(MASKS)[:1]])


@pytest.mark.parametrize(
    ("spec", "why"),
    [
        (broken("ghi_flags", "flag_masks", DOUBLED), "ghi_flags: flag_masks are not distinct"),
        (broken("ghi_flags", "flag_masks", np.asarray(MASKS, np.int64)), "of another type"),
        (broken("ghi_flags", "flag_masks", np.asarray(MASKS) * np.int32(3)), "powers of two"),
        (broken("ghi_flags", "flag_meanings", "one two"), "not as many flag_meanings"),
        (broken("ghi_flags", "valid_range", np.array([0, 7], np.int32)), "valid_range"),
        (broken("ghi_grade", "flag_values", np.array([1, 1], np.int8)), "not distinct"),
        (broken("ghi_grade", "flag_values", np.array([2, 3], np.int8)), "without a meaning"),
        (broken("ghi", "units", None), "ghi: numbers without units"),
        (broken("ghi", "ancillary_variables", "ghi_flags nothing"), "names nothing"),
        (with_attributes(minute_file(), Conventions="CF-1.6"), "Conventions differ"),
    ],
)
def test_fault_is_named(spec: FileSpec, why: str) -> None:
    assert any(why in fault for fault in conformity_faults(spec)), conformity_faults(spec)


def test_bits_and_times_and_groups() -> None:
    spec = minute_file()
    data = spec["ghi_flags"].data.copy()
    data[3] = 1 << 30
    bounds = spec["time_bounds"].data.copy()
    bounds[5, 1] += 600
    variables = tuple(
        replace(v, data={"ghi_flags": data, "time_bounds": bounds}.get(v.name, v.data))
        for v in spec.variables
    )
    found = conformity_faults(replace(spec, variables=variables))
    assert found == ["ghi_flags: bits without a meaning", "time_bounds overlap"]
    table = spec.groups[0].groups[0]
    column = next(v for v in table.variables if v.name == "sensitivity")
    bare = replace(column, attributes={"long_name": "x"})
    inner = replace(table, variables=(bare,), attributes={"Conventions": "CF-1.11"})
    group = replace(spec.groups[0], groups=(inner,))
    found = conformity_faults(replace(spec, groups=(group,)))
    assert found == [
        "deployment: Conventions may stand at the root only",
        "sensitivity: numbers without units",
    ]
