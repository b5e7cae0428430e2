"""Minutes of a steady sky, for tests of figures and pages."""

from __future__ import annotations

import numpy as np
import xarray as xr

from sunledger.vocabulary import GRADES

START = 1932768000  # 2031-04-01


def minutes(zenith: float = 60.0, days: int = 2, start: int = START) -> xr.Dataset:
    """Minutes of a steady sky with a closing sum: 500 = 100 + 800 cos 60."""
    size = days * 1440
    held = {"ghi": 500.0, "dhi": 100.0, "dni": 800.0, "solar_zenith_angle": zenith}
    series = {name: ("time", np.full(size, value)) for name, value in held.items()}
    series["solar_azimuth_angle"] = ("time", np.linspace(90.0, 270.0, size))
    series["clock_residual_main"] = ("time", np.full(size, 3.0))
    for q in ("ghi", "dhi", "dni"):
        series[f"{q}_grade"] = ("time", np.full(size, GRADES["good"], np.int8))
        series[f"{q}_flags"] = ("time", np.zeros(size, np.int32))
        series[f"{q}_conditions"] = ("time", np.zeros(size, np.int32))
    return xr.Dataset(series, {"time": start + 60 * np.arange(size)}, {"interval": 60})
