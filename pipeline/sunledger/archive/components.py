"""Components of the uncertainty in minute files: how they are written, and that they make it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.archive.conventions import series_attributes
from sunledger.archive.specification import Attribute, FileSpec, VariableSpec, quantize
from sunledger.vocabulary import QUANTITIES, Quantity

FINER = 0.125
"""Step of the components over that of the quantity: small ones count together."""
_INSIDE = "_uncertainty_"
_EPS = float(np.finfo(np.float32).eps)


def with_components(
    variables: Iterable[VariableSpec], quantity: Quantity, ds: xr.Dataset
) -> tuple[VariableSpec, ...]:
    """
    The variables of a quantity and, where they are kept, the components of its uncertainty.

    Parameters
    ----------
    variables : iterable of VariableSpec
        Of the quantity.
    quantity : Quantity
        Row of the vocabulary, or one of a position.
    ds : xarray.Dataset
        Series, with ``<quantity>_uncertainty_<component>`` where they are wanted.

    Returns
    -------
    variables : tuple of VariableSpec
        Components last, as ancillary variables of the uncertainty.
    """
    start = f"{quantity.name}{_INSIDE}"
    names = [str(name) for name in ds.data_vars if str(name).startswith(start)]
    if not names:
        return tuple(variables)
    parts = [_component(quantity, name, name[len(start) :], ds[name].values) for name in names]
    return (*(_linked(v, quantity, names) for v in variables), *parts)


def _linked(variable: VariableSpec, quantity: Quantity, names: list[str]) -> VariableSpec:
    if variable.name != f"{quantity.name}_uncertainty":
        return variable
    more = {"ancillary_variables": " ".join(names)}
    return replace(variable, attributes={**variable.attributes, **more})


def _component(
    quantity: Quantity, name: str, component: str, values: npt.NDArray[Any]
) -> VariableSpec:
    words = component.replace("_", " ")
    attributes: dict[str, Attribute] = {
        "long_name": f"standard uncertainty (k = 1) of {quantity.long_name} by {words}",
        "units": quantity.units,
        "coverage_factor": 1.0,
        "references": "JCGM 100:2008",
        "comment": "twice the root of the sum of the squares of all components is the expanded"
        " uncertainty; missing where the instrument's budget has no such component",
    }
    rounded = quantize(values, quantity.resolution * FINER)
    shared = series_attributes(attributes, "qualityInformation")
    return VariableSpec(name, ("time",), rounded, shared, "f4", np.nan)


def components_of(names: Iterable[str]) -> dict[str, list[str]]:
    """
    Which components a file holds of which uncertainty.

    Parameters
    ----------
    names : iterable of str
        Of its variables.

    Returns
    -------
    components : dict of list of str
        Name of the quantity, or of one at a position → names of the variables.
    """
    found: dict[str, list[str]] = {}
    for name in names:
        of, _, component = name.partition(_INSIDE)
        if component:
            found.setdefault(of, []).append(name)
    return found


def component_faults(spec: FileSpec) -> Iterator[str]:
    """
    Whether the components in a minute file make the uncertainty beside them.

    Parameters
    ----------
    spec : FileSpec
        As read.

    Yields
    ------
    why : str
        One a quantity, with the number of minutes that do not agree.
    """
    series: Mapping[str, npt.NDArray[Any]] = {v.name: v.data for v in spec.variables}
    for name, parts in components_of(series).items():
        stated = series[f"{name}_uncertainty"].astype(float)
        squares = sum(np.nan_to_num(series[p].astype(float)) ** 2 for p in parts)
        step = QUANTITIES[name.partition("_at_")[0]].resolution
        # half a step of the whole, and of each part, all in one direction
        slack = step * (0.5 + FINER * np.sqrt(len(parts))) + 4 * _EPS * np.abs(stated)
        wrong = int(np.count_nonzero(np.abs(2.0 * np.sqrt(squares) - stated) > slack))
        if wrong:
            yield f"{name}: the components do not make the uncertainty in {wrong} intervals"
