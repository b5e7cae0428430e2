"""Aggregate products pass the checker and say how they were made."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from archive.compliance import unexpected
from archive.samples import hourly_file, monthly_file
from sunledger.archive.conventions_aggregates import (
    AGGREGATE_PARTS,
    DERIVED,
    AggregateNotes,
    aggregate_variables,
    sunshine_variables,
)
from sunledger.archive.netcdf import FileSpec, write_file
from sunledger.vocabulary import QUANTITIES

NOTES = AggregateNotes("daily", "all counting minutes", "fully correlated", "at least 0.9")
# No standard name exists for a share of a period (table v93).
NAMELESS = tuple(
    f"{name}_coverage_fraction" for name in ("ghi", "dni_horizontal", "sunshine_duration")
)


@pytest.mark.parametrize("make", [hourly_file, monthly_file])
def test_aggregates_pass_the_checker(tmp_path: Path, make: Callable[[], FileSpec]) -> None:
    write_file(tmp_path / "x.nc", make())
    assert unexpected(tmp_path / "x.nc", NAMELESS) == []


def test_mean_names_what_goes_with_it_but_not_the_exposure() -> None:
    values = {key: [1.0] for key in AGGREGATE_PARTS}
    made = aggregate_variables(QUANTITIES["ghi"], values, NOTES, "global_1")
    assert [v.name for v in made] == [f"ghi{suffix}" for suffix in AGGREGATE_PARTS.values()]
    said = made[0].attributes
    ancillary = str(said["ancillary_variables"]).split()
    assert ancillary == [v.name for v in made[1:] if "exposure" not in v.name]
    assert said["long_name"] == f"daily mean of {QUANTITIES['ghi'].long_name}"
    assert said["cell_methods"] == "time: mean (interval: 1 minute)"
    assert said["comment"] == "all counting minutes"


def test_exposure_has_the_standard_name_of_the_integral_where_there_is_one() -> None:
    for name, standard in (("ghi", True), ("lwd", True), ("dni", False)):
        values = {"mean": [1.0], "exposure": [86400.0], "exposure_uncertainty": [9.0]}
        made = {v.name: v for v in aggregate_variables(QUANTITIES[name], values, NOTES)}
        exposure = made[f"{name}_exposure"]
        assert exposure.attributes["units"] == "J m-2"
        assert ("standard_name" in exposure.attributes) is standard
        uncertain = made[f"{name}_exposure_uncertainty"].attributes
        assert ("standard_error_multiplier" in uncertain) is standard
        assert uncertain["coverage_factor"] == 2.0


def test_sunshine_is_a_sum_above_the_threshold() -> None:
    duration, withheld = sunshine_variables({"mean": [3600.0], "withheld": [0]}, NOTES, 120.0)
    assert duration.attributes["standard_name"] == "duration_of_sunshine"
    assert "above 120 W m-2" in str(duration.attributes["long_name"])
    assert duration.attributes["cell_methods"] == "time: sum (interval: 1 minute)"
    assert withheld.name == duration.attributes["ancillary_variables"]


def test_derived_quantities_are_not_those_of_the_vocabulary() -> None:
    assert set(DERIVED).isdisjoint(QUANTITIES)


def test_unknown_part_is_refused() -> None:
    with pytest.raises(KeyError, match="keys must be mean and any of mean, withheld"):
        aggregate_variables(QUANTITIES["ghi"], {"mean": [1.0], "mode": [1.0]}, NOTES)
