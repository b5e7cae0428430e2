"""An instrument and its reference side by side, from readings in memory."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_allclose

from campaign_project import campaign
from invented import (
    MARCH,
    SENSITIVITY,
    certificate,
    instrument,
    irradiances,
    logger,
    period,
    readings,
    station_config,
    timed,
)
from sunledger.config.loading import StationConfig
from sunledger.config.models.campaign import Campaign
from sunledger.config.models.processing import Processing
from sunledger.config.resolve import Period
from sunledger.physics.sun import solar_position
from sunledger.stages.campaign_minutes import (
    OWN_PARTS,
    campaign_minutes,
    sensitivity_of,
    with_sensitivity,
)

DAYS = {"from": "2031-03-16", "until": "2031-03-17"}
SUM = Campaign.model_validate(campaign(**DAYS))
SHADED = {
    "id": "s", "type": "deployment", "from": "2030-07-01", "instrument": "NR-diffuse_1",
    "position": "diffuse_1", "shade": "disc", "role": "keeper", "corrects": "dep-diffuse_1",
    "reason": "shade forgotten",
}  # fmt: skip


def beside(config: StationConfig, resolved: Period, file: Campaign = SUM) -> xr.Dataset:
    """Minutes of a day."""
    return campaign_minutes(timed(config, resolved, readings(config)), resolved, file)


def keeping(**calibrate: Any) -> Processing:
    """Settings under which every correction is kept, as a trial has them."""
    kept = {"keep_corrections": Processing().calibrate.corrections}
    return Processing.model_validate({"calibrate": kept | calibrate})


def test_signal_and_component_sum_by_hand() -> None:
    """The signal is what was logged; the sum takes the sun at each reading's true middle."""
    config = station_config(entries=[SHADED])
    ds = beside(config, period(config, processing=keeping()))
    plain = irradiances(1440)
    assert_allclose(ds["signal"], plain["global_1"] * SENSITIVITY["global_1"], rtol=1e-12)
    sun = solar_position(MARCH + 60 * np.arange(1440) + 30.0, 46.9, 10.2, 2000.0)
    cosine = np.maximum(np.cos(np.radians(sun.zenith)), 0.0)
    assert_allclose(ds["reference"], plain["direct_1"] * cosine + plain["diffuse_1"], rtol=1e-9)
    assert not ds["hindered"].any()
    assert ds.attrs["corrections"] == ()
    assert {f"part_{n}" for n in OWN_PARTS} <= set(ds.data_vars)


def test_comparison_takes_the_other_position() -> None:
    """The reference is what stands there, by its own certificate, with its own uncertainty."""
    other = campaign(
        method="comparison", components=None, reference="global_1", position="diffuse_1"
    )
    config = station_config(entries=[SHADED])
    resolved = period(config, processing=keeping())
    ds = beside(config, resolved, Campaign.model_validate(other | DAYS))
    plain = irradiances(1440)
    assert_allclose(ds["reference"], plain["global_1"], rtol=1e-12)
    assert_allclose(ds["signal"], plain["diffuse_1"] * SENSITIVITY["diffuse_1"], rtol=1e-12)
    # 1.2 % expanded is 0.6 % standard; the class's limits come on top
    share = ds["part_reference"] / ds["reference"]
    assert ((share > 0.006) & (share < 0.03)).all()
    assert ds["part_reference_of_a_minute"].attrs == {"common": "sample"}
    assert ds["part_clock"].attrs == {"common": "sample"}
    assert ds["part_level"].attrs == {"common": "calibration"}


def test_sensitivity_does_not_touch_the_signal() -> None:
    """Another trial sensitivity gives the same signal, and another irradiance of a microvolt."""
    config = station_config(entries=[SHADED])
    resolved = period(config, processing=keeping())
    other = with_sensitivity(resolved, "global_1", 16.0)
    assert (sensitivity_of(resolved, "global_1"), sensitivity_of(other, "global_1")) == (8.0, 16.0)
    one, two = beside(config, resolved), beside(config, other)
    assert_allclose(one["signal"], two["signal"], rtol=1e-12)
    assert_allclose(one["part_logger_accuracy"], 2 * two["part_logger_accuracy"], rtol=1e-12)


@pytest.mark.parametrize(
    ("event", "hindered"),
    [
        ({"type": "visit", "from": "2031-03-16 10:00", "until": "2031-03-16 11:00"}, True),
        ({"type": "clock_check", "time": "2031-03-16 10:00", "logger": "main", "found": 1}, False),
    ],
)
def test_record_speaks_against_minutes(event: dict[str, Any], hindered: bool) -> None:
    """A visit hinders; a good clock check does not."""
    config = station_config(entries=[SHADED, {"id": "e", "role": "keeper", **event}])
    found = beside(config, period(config, processing=keeping()))["hindered"].values
    assert found[600:660].all() == hindered
    assert not found[:500].any()


def test_tracker_that_does_not_follow() -> None:
    """Minutes in which the drive says that it is off."""
    config = station_config(entries=[SHADED])
    resolved = period(config, processing=keeping())
    raw = readings(config)
    mode = raw["tracker_mode"].values.copy()
    mode[100:200] = 0
    raw["tracker_mode"] = (raw["tracker_mode"].dims, mode)
    found = campaign_minutes(timed(config, resolved, raw), resolved, SUM)["hindered"].values
    assert found[100:200].all()
    assert np.count_nonzero(found) == 100


def test_correction_that_failed_for_a_while() -> None:
    """Readings without a temperature hinder where the others have one, and not where none has."""
    warm = certificate("global_1", temperature_response=[[-20.0, -1.0], [40.0, 1.0]])
    sensor = {"column": "t", "position": "global_1", "sensor": "body_temperature", "unit": "K"}
    rows = logger(tuple(SENSITIVITY))
    every = [instrument(p, *([warm] if p == "global_1" else [certificate(p)])) for p in SENSITIVITY]
    without = station_config({"main": rows}, every, [SHADED])
    never = beside(without, period(without, processing=keeping()))
    assert not never["hindered"].any()
    assert never.attrs["corrections"] == ()
    config = station_config(
        {"main": rows | {"channels": [*rows["channels"], sensor]}}, every, [SHADED]
    )
    resolved, raw = period(config, processing=keeping()), readings(config)
    body = raw["global_1_body_temperature"].values.copy()
    body[50:80] = np.nan
    raw["global_1_body_temperature"] = (raw["global_1_body_temperature"].dims, body)
    some = campaign_minutes(timed(config, resolved, raw), resolved, SUM)
    assert some.attrs["corrections"] == ("temperature_response",)
    assert np.flatnonzero(some["hindered"].values).tolist() == list(range(50, 80))


def test_clocks_of_two_loggers() -> None:
    """Residuals of 0 and 12 s are 12 s apart."""
    own = {"main": logger(("global_1",)), "beam": logger(("diffuse_1", "direct_1"))}
    check = {"id": "c", "type": "clock_check", "time": "2031-03-01", "logger": "beam",
             "role": "keeper", "found": 12}  # fmt: skip
    config = station_config(own, entries=[SHADED, check])
    resolved = period(config, processing=keeping())
    parts = [readings(config, name) for name in own]
    ds = campaign_minutes(timed(config, resolved, *parts), resolved, SUM)
    assert_allclose(ds["clocks_apart"].values[10:-10], 12.0)
