"""Minutes back from their file, or from what will be written to it."""

from __future__ import annotations

import re
from collections.abc import Collection
from pathlib import Path

import numpy as np
import xarray as xr

from sunledger.archive.columns import opened_columns
from sunledger.archive.specification import Array, FileSpec
from sunledger.datasets import as_variables

_WORDS = "flags|tested|conditions|body_temperature|correction"
_LEFT_OUT = re.compile(rf"_({_WORDS})$|_at_|_uncertainty_")


def read_minutes(path: Path, words: bool = True, only: Collection[str] | None = None) -> xr.Dataset:
    """
    Minutes back from their file.

    Parameters
    ----------
    path : Path
        Minute file.
    words : bool
        Whether flags, tests, conditions and positions beside the primary one are wanted as well.
    only : collection of str or None
        Series that are wanted, as far as the file has them; by default all.

    Returns
    -------
    minutes : xarray.Dataset
        Every series along ``time``, with the attribute ``interval``. [s]
    """
    with opened_columns(path) as file:
        if only is None:
            names = [n for n in file.along("time") if words or not _LEFT_OUT.search(n)]
        else:
            names = ["time", *(n for n in only if n in file)]
        series = {name: file.values(name) for name in names}
        bounds = file.values("time_bounds", slice(1))
    return _minutes(series, bounds)


def minutes_in(spec: FileSpec, words: bool = True) -> xr.Dataset:
    """
    Minutes of a file that is still in memory.

    Parameters
    ----------
    spec : FileSpec
        Of a minute file.
    words : bool
        As of :func:`read_minutes`.

    Returns
    -------
    minutes : xarray.Dataset
        As :func:`read_minutes` gives them once it is written, over the same arrays.
    """
    along = {v.name: v.data for v in spec.variables if v.dimensions == ("time",)}
    series = {name: data for name, data in along.items() if words or not _LEFT_OUT.search(name)}
    return _minutes(series, spec["time_bounds"].data)


def _minutes(series: dict[str, Array], bounds: Array) -> xr.Dataset:
    time = series.pop("time").astype(np.int64)
    return xr.Dataset(
        as_variables({name: ("time", values) for name, values in series.items()}),
        as_variables({"time": ("time", time)}),
        {"interval": int(bounds[0, 1] - bounds[0, 0])},
    )
