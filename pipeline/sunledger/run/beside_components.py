"""What diagnosis reads of archived minutes beside the three components."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.resolve import Period
from sunledger.diagnosis.beside import Beside, net_longwave, temperature_rate
from sunledger.vocabulary import CONDITIONS, TESTS

BEARS_ON = {
    "tracker_off_sun": "dni",
    "pyrheliometer_off_sun": "dni",
    "shade_misaligned": "dhi",
    "beam_obstructed": "dni",
    "frost_or_ventilation": "ghi",
}
"""Tests whose flags diagnosis counts, and the quantity whose word it reads."""
STILL = CONDITIONS["ventilation_off"].mask


def names_beside() -> set[str]:
    """
    Series that :func:`beside_of` reads.

    Returns
    -------
    names : set of str
        Of archived minutes.
    """
    flags = {f"{quantity}_flags" for quantity in BEARS_ON.values()}
    return flags | {"ghi_conditions", "lwd", "lwd_body_temperature"}


def beside_of(ds: xr.Dataset, period: Period) -> Beside:
    """
    Flags and net longwave of archived minutes.

    Parameters
    ----------
    ds : xarray.Dataset
        Archived minutes.
    period : Period
        Resolved configuration of the month.

    Returns
    -------
    beside : Beside
        Minutes without ventilation are not counted as frosted: their flag is the same.
    """
    flagged = {
        test: (ds.variables[f"{q}_flags"].values & TESTS[test].mask) != 0
        for test, q in BEARS_ON.items()
    }
    flagged["frost_or_ventilation"] &= (ds.variables["ghi_conditions"].values & STILL) == 0
    corrected = {
        row.quantity
        for row in period.coefficients
        if row.corrections.thermal_offset is not None
        and row.corrections.thermal_offset.method != "none"
    }
    return Beside(_net_longwave(ds), flagged, tuple(sorted(corrected)), _rate(ds))


def _rate(ds: xr.Dataset) -> npt.NDArray[np.float64] | None:
    if "lwd_body_temperature" not in ds or ds.sizes["time"] < 2:
        return None
    start = ds.variables["time"].values
    return temperature_rate(ds.variables["lwd_body_temperature"].values, int(start[1] - start[0]))


def _net_longwave(ds: xr.Dataset) -> npt.NDArray[np.float64] | None:
    if "lwd" not in ds or "lwd_body_temperature" not in ds:
        return None
    return net_longwave(ds.variables["lwd"].values, ds.variables["lwd_body_temperature"].values)
