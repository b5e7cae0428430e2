"""Readings onto the regular grid of true time: labels move by whole intervals, values never."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.models.station import Channel
from sunledger.config.resolve import Period, ResolvedLogger
from sunledger.datasets import as_variables
from sunledger.physics.sun import (
    SolarPosition,
    extraterrestrial_normal,
    solar_position,
    zenith_angle,
)
