"""A quantity's variables belong together, and each says what it is."""

from __future__ import annotations

import numpy as np
import pytest

from archive.samples import minute_series
from sunledger.archive.conventions_series import PARTS, quantity_variables
from sunledger.vocabulary import QUANTITIES

VALUES = minute_series(10, 1, np.linspace(0, 900, 10))


def test_all_parts_in_order_and_named_by_the_mean() -> None:
    made = quantity_variables(QUANTITIES["ghi"], dict(reversed(VALUES.items())), "global_1", "1 s")
    assert [v.name for v in made] == [f"ghi{suffix}" for suffix in PARTS.values()]
    first = made[0].attributes
    assert str(first["ancillary_variables"]).split() == [v.name for v in made[1:]]
    assert first["instrument"] == "instrument_global_1"
    assert first["cell_methods"] == "time: mean (interval: 1 s)"
    assert "valid_range" not in first  # readers would hide flagged values


def test_only_what_is_given_is_named() -> None:
    (only,) = quantity_variables(QUANTITIES["dhi"], {"mean": VALUES["mean"]})
    assert {"ancillary_variables", "instrument"}.isdisjoint(only.attributes)
    assert only.attributes["cell_methods"] == "time: mean"


def test_uncertainty_is_a_standard_error_with_its_multiplier() -> None:
    made = {v.name: v.attributes for v in quantity_variables(QUANTITIES["dni"], VALUES)}
    said = made["dni_uncertainty"]
    name = "surface_direct_along_beam_shortwave_flux_in_air standard_error"
    assert said["standard_name"] == name
    assert (said["standard_error_multiplier"], said["coverage_factor"]) == (2.0, 2.0)


def test_spread_of_a_temperature_is_a_difference() -> None:
    row = QUANTITIES["air_temperature"]
    values = {k: VALUES[k] for k in ("mean", "min", "std")}
    made = {v.name: v.attributes.get("units_metadata") for v in quantity_variables(row, values)}
    assert made == {
        "air_temperature": "temperature: on_scale",
        "air_temperature_std": "temperature: difference",
        "air_temperature_min": "temperature: on_scale",
    }


def test_values_are_rounded_to_the_resolution_and_missing_stays() -> None:
    values = np.array([np.nan, 100.003, -4.9999])
    spec = quantity_variables(QUANTITIES["ghi"], {"mean": values})[0]
    assert spec.data.dtype == np.float32
    assert np.array_equal(spec.data, [np.nan, 100.0, -5.0], equal_nan=True)
    humidity = quantity_variables(QUANTITIES["relative_humidity"], {"mean": [0.51]})[0]
    assert abs(float(humidity.data[0]) - 0.51) <= 2.0**-15


@pytest.mark.parametrize("values", [{"flags": [0]}, {"mean": [1.0], "median": [1.0]}])
def test_unknown_part_or_no_mean_is_refused(values: dict[str, list[float]]) -> None:
    with pytest.raises(KeyError, match="keys must be mean and any of mean, flags"):
        quantity_variables(QUANTITIES["ghi"], values)
