"""The quiet half hour with the direct on a second logger, whose clock is out."""

from __future__ import annotations

import numpy as np
import xarray as xr

from hand_minutes import VALUES, quiet_minutes
from invented import logger, period, station_config
from sunledger.config.resolve import Period


def two_logger_minutes(apart: float) -> tuple[xr.Dataset, Period]:
    """Minutes of changing light with a closure failure, and their resolved configuration."""
    loggers = {
        "main": logger(("global_1", "diffuse_1", "sky_1")),
        "beam": logger(("direct_1",), serial_number="NR-LG-2"),
    }
    ds = quiet_minutes(5, values={"ghi": VALUES["ghi"] * 1.2})
    ds["dni_min"].values[:] -= 200.0
    ds = ds.assign(clock_residual_beam=("time", np.full(5, apart)))
    return ds.drop_vars("fan"), period(station_config(loggers))
