"""Flags and net longwave of archived minutes, as diagnosis gets them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sunledger.archive.minute_series import read_minutes
from sunledger.config.corrections import NO_CORRECTIONS
from sunledger.config.models.instruments import ThermalOffset
from sunledger.config.resolve import resolve_period
from sunledger.run.beside_components import BEARS_ON, beside_of
from sunledger.run.job import Choice, prepare
from sunledger.run.months import month_bounds
from sunledger.vocabulary import CONDITIONS, TESTS


def test_flags_and_net_longwave_of_the_sample(sample_folder: Path) -> None:
    """
    The net is what the sky sends less what a body of that temperature does.

    By hand with the Stefan-Boltzmann constant of CODATA 2018.
    """
    job = prepare(sample_folder / "sample.yaml", Choice())
    station = next(s for s in job.context.stations if s.station.id == "osr")
    period = resolve_period(station, job.context.processing, *month_bounds("2031-04"))
    path = sample_folder / "build/sample_archive/osr/minute/osr_minute_2031-04.nc"
    ds = read_minutes(path).isel(time=slice(30000, 34000)).copy(deep=True)
    beside = beside_of(ds, period)
    assert set(beside.flagged) == set(BEARS_ON)
    at = int(np.flatnonzero(np.isfinite(ds["lwd"].values))[0])
    net = ds["lwd"].values[at] - 5.670374419e-8 * float(ds["lwd_body_temperature"].values[at]) ** 4
    assert beside.net_longwave is not None
    assert beside.net_longwave[at] == pytest.approx(net, abs=1e-3)
    body = ds["lwd_body_temperature"].values
    assert beside.rate is not None
    assert beside.rate[100] == pytest.approx(2 * (body[115] - body[85]), abs=1e-6)
    ds["dni_flags"].values[3] |= TESTS["tracker_off_sun"].mask
    ds["ghi_flags"].values[[5, 6]] |= TESTS["frost_or_ventilation"].mask
    ds["ghi_conditions"].values[6] |= CONDITIONS["ventilation_off"].mask
    told = beside_of(ds.drop_vars("lwd_body_temperature"), period)
    assert told.flagged["tracker_off_sun"][3]
    assert list(told.flagged["frost_or_ventilation"][[5, 6]]) == [True, False]
    assert told.net_longwave is None
    assert told.rate is None


def test_offsets_taken_off_before_are_told(sample_folder: Path) -> None:
    """By component; a method ``none`` takes nothing off."""
    job = prepare(sample_folder / "sample.yaml", Choice())
    period = resolve_period(
        job.context.stations[0], job.context.processing, *month_bounds("2031-04")
    )
    rows = []
    for row in period.coefficients:
        method = {"ghi": "night", "dhi": "none"}.get(row.quantity)
        offset = ThermalOffset.model_validate({"method": method}) if method else None
        rows.append(replace(row, corrections=replace(NO_CORRECTIONS, thermal_offset=offset)))
    path = sample_folder / "build/sample_archive/osr/minute/osr_minute_2031-04.nc"
    ds = read_minutes(path).isel(time=slice(0, 10))
    told = beside_of(ds, replace(period, coefficients=tuple(rows)))
    assert told.corrected == ("ghi",)
