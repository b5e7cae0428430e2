"""Exchanged wires: named by day and beside it, and no offset is taken for them."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from hand_minutes import put, quiet_minutes, six_quantities, where
from sunledger.config.models.processing import FlagSettings
from sunledger.stages.qc_flag import qc_flag
from sunledger.stages.qc_polarity import polarity_reversed
from sunledger.stages.qc_view import Minutes


def qc_flag_of(ds: xr.Dataset) -> xr.Dataset:
    """The minutes with their words."""
    return qc_flag(ds, six_quantities())


@pytest.mark.parametrize(
    ("zenith", "tested", "failed"),
    [(89.9, True, True), (90.1, True, False), (93.1, False, False), (130.0, False, False)],
)
def test_polarity_is_a_matter_of_the_day(zenith: float, tested: bool, failed: bool) -> None:
    """A night offset is not a reversed channel, and twilight alone proves nothing."""
    ds = quiet_minutes(1, zenith, {"swu": -31.0})
    out = qc_flag_of(ds)
    assert where(out, "swu", "polarity_reversed", "tested").all() == tested
    assert where(out, "swu", "polarity_reversed").all() == failed


def test_reversed_polarity_takes_in_what_is_near() -> None:
    """Small negative values within an hour of strongly negative ones are the same fault."""
    ds = quiet_minutes(130, values={"swu": 100.0})
    put(
        ds,
        "swu",
        [4, 5, 30, 64, 66, 67, 125, 126],
        [-9.0, -2.1, -1.99, -2.01, -30.1, 10, -2.1, -2.1],
    )
    ds["swu"].values[127] = -9.0
    got = np.flatnonzero(where(qc_flag_of(ds), "swu", "polarity_reversed")).tolist()
    assert got == [64, 66, 125, 126]
    alone = quiet_minutes(7, values={"swu": -29.9})
    assert not where(qc_flag_of(alone), "swu", "polarity_reversed").any()


def test_lastingly_below_the_offset_of_the_class_is_reversed() -> None:
    """Half beyond class A's 10 W m-2 (ISO 9060:2018, from memory), and not for a moment."""
    ds = quiet_minutes(200, values={"dhi": 100.0})
    ds["dhi"].values[:30] = -15.1
    ds["dhi"].values[100:103] = -15.1

    def reversed_at(allowed: float) -> list[int]:
        offsets = {"dhi": np.full(200, allowed)}
        seen = Minutes(ds, FlagSettings(), 0.0, {"dhi": np.zeros(200)}, zero_offset=offsets)
        return np.flatnonzero(polarity_reversed(seen, "dhi")[1]).tolist()

    assert reversed_at(10.0) == list(range(30))
    assert reversed_at(10.1) == []
    assert reversed_at(np.nan) == []
