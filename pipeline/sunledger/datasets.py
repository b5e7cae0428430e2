"""Datasets of plain arrays, put together without looking each over for what it might be instead.

Given a bare array, also as the index of a dimension or as places along one, xarray asks whether it
is one of several other kinds. It imports Dask and other libraries that happen to be there to find
out: up to half a second and 30 MB in every process, for arrays that are always numpy's.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

__all__ = ["as_variables", "taken"]

Places = npt.NDArray[np.int64] | slice
"""Some places along a dimension."""


def as_variables(named: Mapping[str, tuple[Any, ...]]) -> dict[str, xr.Variable]:
    """
    Variables for a Dataset or for ``assign``.

    Parameters
    ----------
    named : dict
        Name → dimension or dimensions, values (array-like of numbers, truth values or text), and
        attributes if there are any.

    Returns
    -------
    variables : dict of xarray.Variable
        Name → variable over the same array, which is not copied.

    Raises
    ------
    TypeError
        For objects and for dates of numpy, which xarray has to look over.
    """
    return {name: _variable(name, *parts) for name, parts in named.items()}


def _variable(
    name: str, dims: Any, values: Any, attributes: Mapping[str, Any] | None = None
) -> xr.Variable:
    array = np.asarray(values)
    if array.dtype.kind in "OMm":
        raise TypeError(f"{name}: numbers, truth values or text are wanted (got {array.dtype})")
    if array.dtype.kind in "iu" and dims in (name, (name,)):
        # the index of a dimension; of a bare array xarray asks, too, whether it is of another kind
        index = pd.Index(array)
        return xr.IndexVariable(dims, index, attributes, fastpath=True)  # type: ignore[no-untyped-call]
    return xr.Variable(dims, array, attributes, fastpath=True)


def taken(ds: xr.Dataset, places: Mapping[str, Places]) -> xr.Dataset:
    """
    Part of a Dataset along some dimensions.

    Parameters
    ----------
    ds : xarray.Dataset
        Numbers, truth values and text.
    places : dict
        Dimension → which places along it.

    Returns
    -------
    part : xarray.Dataset
        As ``ds.isel(places)``; what lies along none of these dimensions is not copied.
    """
    if all(isinstance(place, slice) for place in places.values()):
        return ds.isel(places)  # of a slice nothing is asked
    parts = as_variables({str(n): _part(v, places) for n, v in ds.variables.items()})
    coords = {name: parts.pop(str(name)) for name in ds.coords}
    return xr.Dataset(parts, coords, ds.attrs)


def _part(variable: xr.Variable, places: Mapping[str, Places]) -> tuple[Any, ...]:
    values = variable.values
    for axis, dim in enumerate(variable.dims):
        if dim in places:
            values = values[(slice(None),) * axis + (places[str(dim)],)]
    return variable.dims, values, variable.attrs
