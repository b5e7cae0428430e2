"""Minutes of a clear sky by hand, the model's own, with some scatter so that nothing is stuck."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from hand_minutes import put, quiet_minutes
from sunledger.physics.clear_sky import clear_sky

ALTITUDE = 2000.0
"""Of the invented station. [m]"""
SHARE_OF_DIRECT = 0.98
SCATTER = 0.02
"""Minute-to-minute change, so that no two minutes are alike. [W m-2]"""


def clear_minutes(size: int = 120, zenith: Any = 40.0, **factors: float) -> xr.Dataset:
    """Closed components under a clear sky; each may be multiplied by a factor of its own."""
    angle = np.broadcast_to(np.asarray(zenith, float), size)
    ds = quiet_minutes(size, angle)
    cosine = np.maximum(np.cos(np.radians(angle)), 0.0)
    wave = SCATTER * np.sin(np.arange(size) * 1.7)
    beam, whole = clear_sky(angle, 1361.0, ALTITUDE)
    direct = SHARE_OF_DIRECT * beam + wave
    diffuse = np.maximum(whole - direct * cosine, 0.0)
    values = {"ghi": diffuse + direct * cosine, "dhi": diffuse, "dni": direct}
    for quantity, plain in values.items():
        put(ds, quantity, slice(None), plain * factors.get(quantity, 1.0))
    return ds


def passing_clouds(**factors: float) -> xr.Dataset:
    """A clear sky with clouds before the sun for half of every twenty minutes."""
    ds = clear_minutes(120)
    hidden = np.arange(120) % 20 < 10
    cosine = ds["dni_cosine_zenith"].values
    direct = np.where(hidden, 0.0, ds["dni"].values)
    values = {"dni": direct, "dhi": ds["dhi"].values, "ghi": ds["dhi"].values + direct * cosine}
    for quantity, plain in values.items():
        put(ds, quantity, slice(None), plain * factors.get(quantity, 1.0))
    return ds
