"""Datasets of plain arrays, put together without looking each over for what it might be instead.

Given a bare array, xarray asks whether it is one of several other kinds and imports Dask's arrays
to find out: half a second and 30 MB in every process, for arrays that are always numpy's.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

__all__ = ["as_variables"]


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
    return xr.Variable(dims, array, attributes, fastpath=True)
