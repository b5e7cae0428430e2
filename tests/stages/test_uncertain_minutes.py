"""Uncertainties on the grid: of every position, apart by period, and the budget of one."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_allclose

from invented import (
    SENSITIVITY,
    logger,
    period,
    readings,
    station_config,
    timed,
)
from sunledger.config.resolve import Period
from sunledger.stages.calibrate import calibrate
from sunledger.stages.time_correct import logger_on_grid, sun_grid, time_correct
from sunledger.stages.uncertain_minutes import (
    budget_of_minute,
    contributions_on_grid,
    position_uncertainties,
)

FOUR = ("ghi", "dhi", "dni", "lwd")


@pytest.fixture(scope="module")
def made() -> tuple[xr.Dataset, Period]:
    config = station_config()
    resolved = period(config)
    ds = timed(config, resolved, readings(config))
    return time_correct(calibrate(ds, resolved), resolved), resolved


@pytest.mark.parametrize("quantity", FOUR)
def test_every_value_has_one_and_nothing_else(
    made: tuple[xr.Dataset, Period], quantity: str
) -> None:
    ds = made[0].copy()
    stated = ds[f"{quantity}_uncertainty"].values
    np.testing.assert_array_equal(np.isnan(stated), np.isnan(ds[quantity].values))
    assert np.nanmin(stated) > 0


@pytest.mark.parametrize("quantity", FOUR)
def test_the_budget_makes_the_stated_uncertainty(
    made: tuple[xr.Dataset, Period], quantity: str
) -> None:
    """Twice the root of the sum of squares (JCGM 100:2008, eq. 10)."""
    ds, resolved = made
    found = budget_of_minute(ds, resolved, quantity, 700)
    assert found is not None
    components, sizes = found
    assert [c.name for c in components] == list(sizes)
    total = 2.0 * np.sqrt(np.sum(np.square(list(sizes.values()))))
    assert ds[f"{quantity}_uncertainty"].values[700] == pytest.approx(total, rel=1e-9)


def test_contributions_of_a_position_make_its_uncertainty() -> None:
    """Their squares add up to that of the standard uncertainty; each says how long it lasts."""
    config = station_config()
    resolved = period(config)
    ds = calibrate(timed(config, resolved, readings(config)), resolved)
    grid = sun_grid(resolved)
    time, values = grid.time, logger_on_grid(ds, resolved, resolved.loggers[0], grid)
    zenith = np.full(time.size, 50.0)
    stated = position_uncertainties(values, resolved, time, zenith, 60)["direct_1_uncertainty"]
    sizes, common = contributions_on_grid("direct_1", values, resolved, time, zenith, 60)
    assert_allclose(np.sqrt(sum(s**2 for s in sizes.values())), stated / 2.0, rtol=1e-6)
    assert (common["clock"], common["calibration"]) == ("sample", "calibration")


def test_no_instrument_no_budget(made: tuple[xr.Dataset, Period]) -> None:
    """A quantity that nobody measures, and a minute that no certificate covers."""
    ds, resolved = made
    assert budget_of_minute(ds.assign(swu=ds["ghi"]), resolved, "swu", 700) is None
    bare = Period(**{**vars(resolved), "coefficients": ()})
    assert budget_of_minute(ds, bare, "ghi", 700) is None


def test_the_clock_is_that_of_the_logger_of_the_signal() -> None:
    """A thermistor on another logger, whose clock nobody ever checked, changes nothing of it."""
    warm = [
        {"column": "tg", "position": "global_1", "sensor": "body_temperature", "unit": "K"},
    ]
    main = logger(tuple(SENSITIVITY), clock={"discipline": "time_signal"})
    spare = logger((), serial_number="NR-LG-2", files=["aux.csv"], channels=warm)
    stated = []
    for loggers in ({"main": main}, {"aux": spare, "main": main}):
        config = station_config(loggers)
        resolved = period(config)
        ds = timed(config, resolved, *(readings(config, name) for name in loggers))
        ds = time_correct(calibrate(ds, resolved), resolved)
        stated.append(ds["ghi_uncertainty"].values)
    assert np.isfinite(stated[0]).all()
    np.testing.assert_array_equal(stated[1], stated[0])
