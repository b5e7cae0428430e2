"""Rules of CF that a file keeps, those included that common checkers do not look at."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from sunledger.archive.conventions_global import CONVENTIONS
from sunledger.archive.specification import FileSpec, GroupSpec, VariableSpec

_REFERENCES = ("coordinates", "ancillary_variables", "grid_mapping", "instrument", "bounds")


def conformity_faults(spec: FileSpec) -> list[str]:
    """
    What in a file breaks a convention.

    Parameters
    ----------
    spec : FileSpec
        The file as read.

    Returns
    -------
    faults : list of str
        In words; empty for a sound file.

    Notes
    -----
    CF-1.11: 2.6.1 (Conventions), 3.1 (units), 3.5 (flags), 5.6 and 3.4 (names of other variables),
    7.1 (bounds). compliance-checker 6.1.0 looks at neither doubled masks, ranges that do not fit
    the masks, nor anything inside groups.
    """
    faults = [] if spec.attributes.get("Conventions") == CONVENTIONS else ["Conventions differ"]
    names = {v.name for v in spec.variables}
    for variable in spec.variables:
        faults += _variable_faults(variable)
        faults += _reference_faults(variable, names)
    faults += _time_faults(spec)
    for group in spec.groups:
        faults += _group_faults(group)
    return faults


def _group_faults(group: GroupSpec) -> Iterator[str]:
    if "Conventions" in group.attributes:
        yield f"{group.name}: Conventions may stand at the root only"
    for variable in group.variables:
        yield from _variable_faults(variable)
    for inner in group.groups:
        yield from _group_faults(inner)


def _variable_faults(variable: VariableSpec) -> Iterator[str]:
    name, attributes = variable.name, variable.attributes
    if "long_name" not in attributes and "standard_name" not in attributes:
        if not name.endswith("_bounds"):
            yield f"{name}: neither long_name nor standard_name"
        return
    measured = variable.data.dtype.kind == "f" and variable.dimensions
    if (
        measured
        and "flag_values" not in attributes
        and "units" not in attributes
        and variable.data.size
    ):
        yield f"{name}: numbers without units"
    if "flag_masks" in attributes:
        yield from _mask_faults(variable)
    if "flag_values" in attributes:
        yield from _value_faults(variable)


def _mask_faults(variable: VariableSpec) -> Iterator[str]:
    masks = np.atleast_1d(np.asarray(variable.attributes["flag_masks"]))
    whole = masks.astype(np.int64)
    everything = int(np.bitwise_or.reduce(whole))
    if variable.fill_value is not None:
        yield f"{variable.name}: a word of bits must not have a fill value"
    if np.any(whole <= 0) or np.any(whole & (whole - 1)) or np.unique(whole).size != whole.size:
        yield f"{variable.name}: flag_masks are not distinct powers of two"
    if masks.dtype != variable.data.dtype:
        yield f"{variable.name}: flag_masks are of another type than the variable"
    if len(str(variable.attributes.get("flag_meanings", "")).split()) != masks.size:
        yield f"{variable.name}: not as many flag_meanings as flag_masks"
    limits = variable.attributes.get("valid_range")
    if limits is not None and np.asarray(limits).tolist() != [0, everything]:
        yield f"{variable.name}: valid_range is not 0 to all masks together"
    if variable.data.size and np.any(variable.data.astype(np.int64) & ~everything):
        yield f"{variable.name}: bits without a meaning"


def _value_faults(variable: VariableSpec) -> Iterator[str]:
    values = np.atleast_1d(np.asarray(variable.attributes["flag_values"]))
    if np.unique(values).size != values.size:
        yield f"{variable.name}: flag_values are not distinct"
    if len(str(variable.attributes.get("flag_meanings", "")).split()) != values.size:
        yield f"{variable.name}: not as many flag_meanings as flag_values"
    data = variable.data
    present = data[np.isfinite(data)] if data.dtype.kind == "f" else data
    if not np.all(np.isin(present, values)):
        yield f"{variable.name}: values without a meaning"


def _reference_faults(variable: VariableSpec, names: set[str]) -> Iterator[str]:
    for attribute in _REFERENCES:
        words: Any = variable.attributes.get(attribute, "")
        unknown = [word for word in str(words).split() if word not in names]
        if unknown:
            yield f"{variable.name}: {attribute} names {', '.join(unknown)}, which is not there"


def _time_faults(spec: FileSpec) -> Iterator[str]:
    by_name = {v.name: v for v in spec.variables}
    if "time" not in by_name or "time_bounds" not in by_name:
        return
    time, bounds = by_name["time"].data, by_name["time_bounds"].data
    if time.size and not np.all(np.diff(time) > 0):
        yield "time does not rise"
    if not np.array_equal(bounds[:, 0], time) or np.any(bounds[:, 1] <= bounds[:, 0]):
        yield "time_bounds do not begin at time"
    if np.any(bounds[1:, 0] < bounds[:-1, 1]):
        yield "time_bounds overlap"
