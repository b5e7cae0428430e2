"""Faults put into archived minutes, before the flags are set, by the models of `faults`."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import xarray as xr

from faults.readings import Light, Statistics

SIGMA = 5.670374419e-8  # CODATA 2018
SUFFIXES = {"mean": "", "minimum": "_min", "maximum": "_max", "deviation": "_std"}
WEIGHTS = {"": 1.0, "_min": np.sqrt(2.0), "_max": np.sqrt(3.0), "_std": np.sqrt(5.0)}


def statistics_of(ds: xr.Dataset, quantity: str) -> Statistics:
    """Mean, extremes and deviation of a quantity."""
    parts = {name: ds[quantity + s].values.astype(float) for name, s in SUFFIXES.items()}
    return Statistics(**parts)


def light_of(ds: xr.Dataset) -> Light:
    """The minutes as the fault models take them."""
    zenith = np.degrees(np.arccos(np.clip(ds["dni_cosine_zenith"].values, -1.0, 1.0)))
    values = {q: statistics_of(ds, q) for q in ("ghi", "dhi", "dni", "lwd")}
    return Light(
        ds["time"].values.astype(float),
        zenith,
        ds["solar_azimuth_angle"].values,
        beam=values["dni"],
        emission=SIGMA * ds["air_temperature"].values ** 4,
        **values,
    )


def with_values(ds: xr.Dataset, **changed: Statistics) -> xr.Dataset:
    """Minutes in which some quantities have other values, and the fingerprints that go with them.

    The fingerprint stands still only where every statistic does, as that of the voltages.
    """
    out: dict[str, Any] = {}
    for quantity, values in changed.items():
        total = 0.0
        for name, suffix in SUFFIXES.items():
            column = getattr(values, name)
            out[quantity + suffix] = ("time", column)
            total = total + WEIGHTS[suffix] * column
        out[f"{quantity}_fingerprint"] = ("time", total)
    return ds.assign(out)


def with_light(ds: xr.Dataset, fault: Callable[[Light], Light]) -> xr.Dataset:
    """Minutes with a fault that acts on light."""
    before = light_of(ds)
    after = fault(before)
    names = [q for q in ("ghi", "dhi", "dni", "lwd") if getattr(after, q) is not getattr(before, q)]
    return with_values(ds, **{q: getattr(after, q) for q in names})


def with_signal(
    ds: xr.Dataset, quantity: str, fault: Callable[[Statistics, Any], Statistics]
) -> xr.Dataset:
    """Minutes with a fault that acts on one signal, given its values and times."""
    values = fault(statistics_of(ds, quantity), ds["time"].values.astype(float))
    return with_values(ds, **{quantity: values})
