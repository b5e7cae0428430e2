"""Variables of one quantity in the hourly, daily and monthly products."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from sunledger.archive.conventions import float_series, series_attributes
from sunledger.archive.conventions_series import (
    cell_methods,
    mean,
    spread,
    uncertainty,
    uncertainty_attributes,
)
from sunledger.archive.conventions_words import flag_word, grade
from sunledger.archive.specification import Array, Attribute, VariableSpec
from sunledger.vocabulary import GRADES, Quantity

Period = Literal["5min", "10min", "15min", "30min", "hourly", "daily", "monthly", "yearly"]
SAMPLES = "1 minute"

# Quantities formed minute by minute from others before they are averaged.
DERIVED: dict[str, Quantity] = {
    row.name: row
    for row in (
        Quantity(
            "dni_horizontal",
            "direct shortwave irradiance on a horizontal surface",
            "W m-2",
            "shortwave",
            "surface_direct_downwelling_shortwave_flux_in_air",
        ),
        Quantity(
            "ghi_component_sum",
            "global shortwave irradiance on a horizontal surface, sum of diffuse and direct",
            "W m-2",
            "shortwave",
            "surface_downwelling_shortwave_flux_in_air",
            "integral_wrt_time_of_surface_downwelling_shortwave_flux_in_air",
        ),
    )
}

SOURCES = ("component_sum", "pyranometer")
"""What the selected global is taken from."""

# Key → suffix of the variable name, in the order in which a quantity's variables are written.
AGGREGATE_PARTS: dict[str, str] = {
    "mean": "",
    "withheld": "_withheld",
    "uncertainty": "_uncertainty",
    "number_of_observations": "_number_of_observations",
    "number_of_missing_observations": "_number_of_missing_observations",
    "coverage_fraction": "_coverage_fraction",
    "std": "_std",
    "min": "_min",
    "max": "_max",
    "exposure": "_exposure",
    "exposure_uncertainty": "_exposure_uncertainty",
    "number_of_days": "_number_of_days",
    "worst_grade": "_worst_grade",
    **{f"share_{name}": f"_share_{name}" for name in (*GRADES, *SOURCES)},
}


@dataclass(frozen=True)
class AggregateNotes:
    """
    What is said about how aggregates were made.

    Parameters
    ----------
    period : str
        ``hourly``, ``daily`` or ``monthly``.
    method : str
        How the mean is made and which minutes count; becomes the comment of the mean.
    uncertainty : str
        How the uncertainty is made; becomes its comment.
    completeness : str
        When a value is withheld; becomes the comment of the coverage.
    samples : str
        Interval of what is averaged.
    """

    period: Period
    method: str = ""
    uncertainty: str = ""
    completeness: str = ""
    samples: str = SAMPLES


def aggregate_variables(
    quantity: Quantity, values: Mapping[str, Array], notes: AggregateNotes, instrument: str = ""
) -> tuple[VariableSpec, ...]:
    """
    All variables of one quantity in an aggregate product.

    Parameters
    ----------
    quantity : Quantity
        Row of the vocabulary, or one like it for a derived series.
    values : dict
        Key of `AGGREGATE_PARTS` → array of shape (time,); ``mean`` is needed.
    notes : AggregateNotes
        How the values were made.
    instrument : str
        Position of the instrument, for which the file has an `instrument_container`.

    Returns
    -------
    variables : tuple of VariableSpec
        In the order of `AGGREGATE_PARTS`.

    Raises
    ------
    KeyError
        If a key is not one of `AGGREGATE_PARTS`, or there is no mean.
    """
    unknown = [key for key in values if key not in AGGREGATE_PARTS]
    if unknown or "mean" not in values:
        allowed = ", ".join(AGGREGATE_PARTS)
        raise KeyError(f"keys must be mean and any of {allowed} (got {', '.join(values)})")
    averaged = replace(quantity, long_name=f"{notes.period} mean of {quantity.long_name}")
    others = [
        f"{quantity.name}{suffix}"
        for key, suffix in AGGREGATE_PARTS.items()
        if key in values and key not in ("mean", "exposure", "exposure_uncertainty")
    ]
    first = _mean(averaged, values["mean"], others, notes, instrument)
    return (first, *_rest(quantity, averaged, values, notes))


def _rest(
    quantity: Quantity, averaged: Quantity, values: Mapping[str, Array], notes: AggregateNotes
) -> tuple[VariableSpec, ...]:
    return tuple(
        build(quantity, averaged, values[key], notes)
        for key, build in _BUILDERS.items()
        if key in values
    )


def _with(variable: VariableSpec, **attributes: Attribute) -> VariableSpec:
    given = {name: value for name, value in attributes.items() if value != ""}
    return replace(variable, attributes={**variable.attributes, **given})


def _mean(
    averaged: Quantity,
    values: npt.ArrayLike,
    ancillary: list[str],
    notes: AggregateNotes,
    instrument: str,
) -> VariableSpec:
    made = mean(averaged, values, ancillary, instrument, notes.samples)
    return _with(made, comment=notes.method)


def _withheld(
    quantity: Quantity, averaged: Quantity, values: Array, notes: AggregateNotes
) -> VariableSpec:
    return flag_word(averaged, "withheld", values)


def _uncertainty(
    quantity: Quantity, averaged: Quantity, values: Array, notes: AggregateNotes
) -> VariableSpec:
    return uncertainty(averaged, values, notes.uncertainty)


def _spread(key: str) -> Builder:
    def build(
        quantity: Quantity, averaged: Quantity, values: Array, notes: AggregateNotes
    ) -> VariableSpec:
        made = spread(quantity, key, values, notes.samples)
        what = str(made.attributes["long_name"]).replace("sample", "minute")
        return _with(made, long_name=what)

    return build


def _count(
    quantity: Quantity, averaged: Quantity, values: Array, notes: AggregateNotes
) -> VariableSpec:
    what = f"number of intervals of {notes.samples} used for {quantity.name}"
    return _number(quantity.name, "number_of_observations", what, values)


def _missing_count(
    quantity: Quantity, averaged: Quantity, values: Array, notes: AggregateNotes
) -> VariableSpec:
    what = f"number of intervals of {notes.samples} missing or not counting for {quantity.name}"
    return _number(quantity.name, "number_of_missing_observations", what, values)


def _number(stem: str, standard_name: str, long_name: str, values: Array) -> VariableSpec:
    attributes: dict[str, Attribute] = {
        "standard_name": standard_name,
        "long_name": long_name,
        "units": "1",
        "cell_methods": "time: sum",
    }
    return VariableSpec(
        f"{stem}_{standard_name}",
        ("time",),
        np.asarray(values),
        series_attributes(attributes, "qualityInformation"),
        "i4",
    )


def _coverage(
    quantity: Quantity, averaged: Quantity, values: Array, notes: AggregateNotes
) -> VariableSpec:
    attributes: dict[str, Attribute] = {
        "long_name": f"fraction of the period covered by what is used for {quantity.name}",
        "units": "1",
        "valid_range": np.array([0, 1], np.float32),
        "comment": notes.completeness,
    }
    return VariableSpec(
        f"{quantity.name}_coverage_fraction",
        ("time",),
        np.asarray(values),
        series_attributes(attributes, "qualityInformation"),
        "f4",
    )


def _days(
    quantity: Quantity, averaged: Quantity, values: Array, notes: AggregateNotes
) -> VariableSpec:
    attributes: dict[str, Attribute] = {
        "long_name": f"number of days behind the {notes.period} mean of {quantity.name}",
        "units": "1",
        "comment": "of a diurnal composite, the days behind the time of day that has the fewest",
    }
    return VariableSpec(
        f"{quantity.name}_number_of_days",
        ("time",),
        np.asarray(values),
        series_attributes(attributes, "qualityInformation"),
        "i4",
    )


def _exposure(
    quantity: Quantity, averaged: Quantity, values: Array, notes: AggregateNotes
) -> VariableSpec:
    attributes: dict[str, Attribute] = {
        "standard_name": quantity.exposure_standard_name or "",
        "long_name": f"{notes.period} radiant exposure, integral of {quantity.long_name}",
        "units": "J m-2",
        "cell_methods": cell_methods("sum", notes.samples),
    }
    name = f"{quantity.name}_exposure"
    return float_series(name, values, attributes, "physicalMeasurement")


def _exposure_uncertainty(
    quantity: Quantity, averaged: Quantity, values: Array, notes: AggregateNotes
) -> VariableSpec:
    what = f"the {notes.period} radiant exposure of {quantity.long_name}"
    attributes = {
        **uncertainty_attributes(quantity.exposure_standard_name, what),
        "units": "J m-2",
        "comment": notes.uncertainty,
    }
    name = f"{quantity.name}_exposure_uncertainty"
    return float_series(name, values, attributes, "qualityInformation")


def _worst_grade(
    quantity: Quantity, averaged: Quantity, values: Array, notes: AggregateNotes
) -> VariableSpec:
    made = grade(replace(quantity, name=f"{quantity.name}_worst"), values)
    what = f"worst grade of any reading of {quantity.long_name}"
    said = "missing only where nothing was read in the whole period"
    return _with(made, long_name=what, comment=said)


def _share(key: str) -> Builder:
    def build(
        quantity: Quantity, averaged: Quantity, values: Array, notes: AggregateNotes
    ) -> VariableSpec:
        word = key.removeprefix("share_")
        which = f"taken from the {word}" if word in SOURCES else f"graded {word}"
        attributes: dict[str, Attribute] = {
            "long_name": f"share of the intervals of {notes.samples} of {quantity.name} {which}",
            "units": "1",
            "valid_range": np.array([0, 1], np.float32),
        }
        name = f"{quantity.name}_{key}"
        return float_series(name, values, attributes, "qualityInformation")

    return build


Builder = Callable[[Quantity, Quantity, Array, AggregateNotes], VariableSpec]
_BUILDERS: dict[str, Builder] = {
    "withheld": _withheld,
    "uncertainty": _uncertainty,
    "number_of_observations": _count,
    "number_of_missing_observations": _missing_count,
    "coverage_fraction": _coverage,
    "std": _spread("std"),
    "min": _spread("min"),
    "max": _spread("max"),
    "exposure": _exposure,
    "exposure_uncertainty": _exposure_uncertainty,
    "number_of_days": _days,
    "worst_grade": _worst_grade,
    **{f"share_{name}": _share(f"share_{name}") for name in (*GRADES, *SOURCES)},
}


def companions(
    row: Quantity, values: Mapping[str, Array], notes: AggregateNotes
) -> tuple[VariableSpec, ...]:
    """
    What goes with a value that is no mean: why it is withheld, counts, coverage.

    Parameters
    ----------
    row : Quantity
        Name and long name.
    values : dict
        Key of `AGGREGATE_PARTS` → array of shape (time,); ``mean`` is left out.
    notes : AggregateNotes
        How the values were made.

    Returns
    -------
    variables : tuple of VariableSpec
        In the order of `AGGREGATE_PARTS`.
    """
    return _rest(row, row, {k: v for k, v in values.items() if k != "mean"}, notes)


def sunshine_variables(
    values: Mapping[str, Array], notes: AggregateNotes, threshold: float
) -> tuple[VariableSpec, ...]:
    """
    Time with direct irradiance above a threshold, and how complete it is.

    Parameters
    ----------
    values : dict
        ``mean``: the duration [s], NaN where withheld; and any of ``withheld``,
        ``number_of_observations``, ``number_of_missing_observations``, ``coverage_fraction``;
        arrays of shape (time,).
    notes : AggregateNotes
        How the values were made.
    threshold : float
        Direct irradiance above which the sun shines. [W m-2]

    Returns
    -------
    variables : tuple of VariableSpec
        ``sunshine_duration`` and those that go with it.
    """
    row = Quantity("sunshine_duration", f"{notes.period} duration of sunshine", "s", "shortwave")
    rest = companions(row, values, notes)
    attributes: dict[str, Attribute] = {
        "standard_name": "duration_of_sunshine",
        "long_name": f"{row.long_name}: time with direct irradiance above {threshold:g} W m-2",
        "units": "s",
        "cell_methods": cell_methods("sum", notes.samples),
        "ancillary_variables": " ".join(variable.name for variable in rest),
        "references": "WMO-No. 8",
        "comment": notes.method,
    }
    duration = float_series(row.name, values["mean"], attributes, "physicalMeasurement")
    return (duration, *rest)
