"""Variables of one quantity in the minute product: its statistics, words, grade, uncertainty."""

from __future__ import annotations

from collections.abc import Mapping
from typing import cast

import numpy as np
import numpy.typing as npt

from sunledger.archive.conventions import float_series, series_attributes
from sunledger.archive.conventions_words import Word, flag_word, grade
from sunledger.archive.specification import Array, Attribute, VariableSpec, quantize
from sunledger.vocabulary import Quantity

# Key → suffix of the variable name, in the order in which a quantity's variables are written.
PARTS: dict[str, str] = {
    "mean": "",
    "flags": "_flags",
    "tested": "_tested",
    "conditions": "_conditions",
    "grade": "_grade",
    "uncertainty": "_uncertainty",
    "std": "_std",
    "min": "_min",
    "max": "_max",
}
_SPREADS: dict[str, tuple[str, str]] = {
    "std": ("standard_deviation", "standard deviation within the interval of"),
    "min": ("minimum", "smallest sample within the interval of"),
    "max": ("maximum", "largest sample within the interval of"),
}
DIFFERENCES = ("std", "uncertainty")


def quantity_variables(
    quantity: Quantity, values: Mapping[str, Array], instrument: str = "", sampling: str = ""
) -> tuple[VariableSpec, ...]:
    """
    All variables of one quantity, irradiance or air data.

    Parameters
    ----------
    quantity : Quantity
        Row of the vocabulary, or one from `at_position`.
    values : dict
        Key of `PARTS` → array of shape (time,); ``mean`` is needed, the others if there are any.
    instrument : str
        Position of the instrument, for which the file has an `instrument_container`.
    sampling : str
        Interval between the samples averaged, such as ``1 s``, if known.

    Returns
    -------
    variables : tuple of VariableSpec
        In the order of `PARTS`; floats rounded to the quantity's resolution.

    Raises
    ------
    KeyError
        If a key is not one of `PARTS`, or there is no mean.
    """
    unknown = [key for key in values if key not in PARTS]
    if unknown or "mean" not in values:
        raise KeyError(f"keys must be mean and any of {', '.join(PARTS)} (got {', '.join(values)})")
    return tuple(
        _variable(quantity, key, values, instrument, sampling) for key in PARTS if key in values
    )


def _variable(
    quantity: Quantity, key: str, values: Mapping[str, Array], instrument: str, sampling: str
) -> VariableSpec:
    if key == "mean":
        others = [f"{quantity.name}{PARTS[k]}" for k in PARTS if k in values and k != "mean"]
        return mean(quantity, values[key], others, instrument, sampling)
    if key in ("flags", "tested", "conditions"):
        return flag_word(quantity, cast(Word, key), values[key])
    if key == "grade":
        return grade(quantity, values[key])
    if key == "uncertainty":
        return uncertainty(quantity, values[key])
    return spread(quantity, key, values[key], sampling)


def mean(
    quantity: Quantity,
    values: npt.ArrayLike,
    ancillary: list[str],
    instrument: str = "",
    sampling: str = "",
) -> VariableSpec:
    """
    Mean over each interval.

    Parameters
    ----------
    quantity : Quantity
        What is measured.
    values : array-like, shape (time,)
        NaN where missing. [unit of the quantity]
    ancillary : list of str
        Names of the variables that say more about it.
    instrument : str
        Position of the instrument.
    sampling : str
        Interval between samples.

    Returns
    -------
    variable : VariableSpec
        No ``valid_range``: with one, readers would hide flagged values.
    """
    attributes = {
        **named(quantity, "mean", quantity.long_name),
        "cell_methods": cell_methods("mean", sampling),
        "ancillary_variables": " ".join(ancillary),
        "instrument": f"instrument_{instrument}" if instrument else "",
    }
    return rounded_series(quantity, quantity.name, values, attributes)


def named(quantity: Quantity, key: str, long_name: str) -> dict[str, Attribute]:
    """
    Standard name, long name and unit.

    Parameters
    ----------
    quantity : Quantity
        What is measured.
    key : str
        ``mean``, ``min``, ``max``, or one of `DIFFERENCES`, whose temperatures are differences.
    long_name : str
        What it is.

    Returns
    -------
    attributes : dict
        With ``units_metadata`` for temperatures.
    """
    scale = "difference" if key in DIFFERENCES else "on_scale"
    return {
        "standard_name": quantity.standard_name or "",
        "long_name": long_name,
        "units": quantity.units,
        "units_metadata": f"temperature: {scale}" if quantity.temperature_on_scale else "",
    }


def cell_methods(method: str, sampling: str = "") -> str:
    """
    How the values represent their interval.

    Parameters
    ----------
    method : str
        CF cell method.
    sampling : str
        Interval between the samples.

    Returns
    -------
    cell_methods : str
        Such as ``time: mean (interval: 1 s)``.
    """
    return f"time: {method} (interval: {sampling})" if sampling else f"time: {method}"


def rounded_series(
    quantity: Quantity,
    name: str,
    values: npt.ArrayLike,
    attributes: Mapping[str, Attribute],
) -> VariableSpec:
    """
    A measured series, rounded to the quantity's resolution.

    Parameters
    ----------
    quantity : Quantity
        Says the resolution.
    name : str
        Variable name.
    values : array-like, shape (time,)
        Values.
    attributes : dict
        The variable's own attributes.

    Returns
    -------
    variable : VariableSpec
        The series.
    """
    return float_series(
        name, quantize(values, quantity.resolution), attributes, "physicalMeasurement"
    )


def spread(quantity: Quantity, key: str, values: npt.ArrayLike, sampling: str = "") -> VariableSpec:
    """
    Minimum, maximum or standard deviation of the samples in each interval.

    Parameters
    ----------
    quantity : Quantity
        What is measured.
    key : str
        ``min``, ``max`` or ``std``.
    values : array-like, shape (time,)
        NaN where missing. [unit of the quantity]
    sampling : str
        Interval between samples.

    Returns
    -------
    variable : VariableSpec
        ``<quantity>_min``, ``_max`` or ``_std``.
    """
    method, what = _SPREADS[key]
    attributes = {
        **named(quantity, key, f"{what} {quantity.long_name}"),
        "cell_methods": cell_methods(method, sampling),
    }
    return float_series(
        f"{quantity.name}_{key}",
        quantize(values, quantity.resolution),
        attributes,
        "auxiliaryInformation",
    )


def uncertainty(quantity: Quantity, values: npt.ArrayLike, comment: str = "") -> VariableSpec:
    """
    Expanded uncertainty of each value.

    Parameters
    ----------
    quantity : Quantity
        What is measured.
    values : array-like, shape (time,)
        Coverage factor 2. [unit of the quantity]
    comment : str
        How it was made.

    Returns
    -------
    variable : VariableSpec
        ``<quantity>_uncertainty``; CF stores it as standard error with a multiplier.
    """
    attributes = {
        **named(quantity, "uncertainty", ""),
        **uncertainty_attributes(quantity.standard_name, quantity.long_name),
        "comment": comment,
    }
    return VariableSpec(
        f"{quantity.name}_uncertainty",
        ("time",),
        quantize(values, quantity.resolution),
        series_attributes(attributes, "qualityInformation"),
        "f4",
        np.nan,
    )


def uncertainty_attributes(standard_name: str | None, long_name: str) -> dict[str, Attribute]:
    """
    Attributes that make a series the expanded uncertainty of another.

    Parameters
    ----------
    standard_name : str or None
        Of the other series.
    long_name : str
        Of the other series.

    Returns
    -------
    attributes : dict
        Standard name with CF's modifier, multiplier, coverage.
    """
    attributes: dict[str, Attribute] = {
        "standard_name": f"{standard_name} standard_error" if standard_name else "",
        "long_name": f"expanded uncertainty (k = 2, about 95 %) of {long_name}",
        "coverage_factor": 2.0,
        "coverage_probability": 0.95,
        "references": "JCGM 100:2008",
    }
    # CF defines the multiplier for variables with the standard_error modifier only.
    return {**attributes, "standard_error_multiplier": 2.0} if standard_name else attributes
