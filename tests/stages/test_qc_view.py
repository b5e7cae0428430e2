"""The tests' view of minutes: limits, the sun, and whose clock a value came from."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_allclose, assert_array_equal

from hand_minutes import VALUES, quiet_minutes, six_quantities
from invented import MARCH, logger, period, station_config
from sunledger.config.models.processing import FlagSettings
from sunledger.physics.limits import LIMITS
from sunledger.stages.qc_flag import qc_flag
from sunledger.stages.qc_view import (
    Minutes,
    clock_residual,
    limit_of,
    limit_values,
    whole_diffuse,
)
from sunledger.vocabulary import CONDITIONS, TESTS

OWN = {"minimum": -1.0, "factor": 0.5, "exponent": 2.0, "offset": 20.0}


def view(
    ds: xr.Dataset | None = None, settings: dict[str, Any] | None = None, **residuals: Any
) -> Minutes:
    """Minutes with these settings."""
    ds = quiet_minutes(3) if ds is None else ds
    return Minutes(ds, FlagSettings.model_validate(settings or {}), 10.0, residuals)


def test_published_limits_by_quantity_and_level() -> None:
    """Every radiometric quantity has physical and rare limits, none has site limits by default."""
    for quantity in VALUES:
        for level in ("physical", "rare"):
            assert limit_of(view(), quantity, level) is not None
        assert limit_of(view(), quantity, "site") is None
    assert limit_of(view(), "swu", "rare") == LIMITS["extremely_rare"]["reflected"]
    assert limit_of(view(), "dni", "physical") == LIMITS["physically_possible"]["direct"]


def test_own_limits_replace_the_level_they_are_given_for() -> None:
    """And no other level, and no other quantity."""
    mine = view(settings={"limits": {"ghi": {"rare": OWN}}})
    got = limit_of(mine, "ghi", "rare")
    assert got is not None
    assert (got.minimum, got.factor, got.exponent, got.offset) == (-1.0, 0.5, 2.0, 20.0)
    assert limit_of(mine, "ghi", "physical") == limit_of(view(), "ghi", "physical")
    assert limit_of(mine, "dhi", "rare") == limit_of(view(), "dhi", "rare")


def test_limit_values_by_hand() -> None:
    """0.5 Sa mu**2 + 20 at 60 degrees: 0.5 x 1361 x 0.25 + 20 = 190.125; at night 20."""
    ds = quiet_minutes(2, [60.0, 100.0])
    mine = view(ds, {"limits": {"ghi": {"site": OWN}}})
    limit = limit_of(mine, "ghi", "site")
    assert limit is not None
    low, high = limit_values(mine, "ghi", limit)
    assert_allclose(high, [190.125, 20.0], rtol=1e-12)
    assert_array_equal(low, [-1.0, -1.0])


def test_zenith_of_a_quantity_is_its_own() -> None:
    """At its true middle; longwave, which has none, takes the nominal middle."""
    ds = quiet_minutes(2, 40.0)
    ds["dni_cosine_zenith"].values[:] = [0.5, 1.0 + 1e-16]
    assert_allclose(view(ds).zenith("dni"), [60.0, 0.0], atol=1e-6)
    assert_allclose(view(ds).zenith("ghi"), 40.0)
    assert_array_equal(view(ds).zenith("lwd"), ds["solar_zenith_angle"])


def test_what_is_said_of_an_array_is_shared_by_the_array_alone() -> None:
    """Not by another that is equal."""
    mine, values = view(quiet_minutes(2)), np.array([1.0, 4.0])
    first = mine.once_of("root", values, np.sqrt)
    assert_array_equal(first, [1.0, 2.0])
    assert mine.once_of("root", values, np.cbrt) is first
    assert mine.once_of("root", values.copy(), np.sqrt) is not first
    assert mine.once_of("other", values, np.square)[1] == 16.0


@pytest.mark.parametrize(
    ("other", "expected"), [(10.0, True), (-10.0, True), (10.5, False), (np.nan, False)]
)
def test_together_within_the_limit(other: float, expected: bool) -> None:
    """While the direct changes; a clock without a reading is with nobody."""
    ds = quiet_minutes(1)
    ds["dni_min"].values[:] -= 200.0
    mine = view(ds, ghi=np.zeros(1), dhi=np.zeros(1), dni=np.array([other]))
    assert mine.together("ghi", "dhi", "dni").tolist() == [expected]
    assert mine.together("ghi", "dhi").tolist() == [True]


def test_steady_light_can_be_compared_across_clocks() -> None:
    """By hand: 24 s of 60 apart, ranges of 2 each: 3 x 0.4 x 2 = 2.4, less than 2 % of global."""
    ds = quiet_minutes(1)
    brightest = max(float(ds[q].values[0]) for q in ("ghi", "dhi", "dni"))
    assert 0.02 * brightest > 2.4
    clocks = {"ghi": np.zeros(1), "dhi": np.zeros(1), "dni": np.array([24.0])}
    assert view(ds, **clocks).together("ghi", "dhi", "dni").tolist() == [True]
    ds["dni_max"].values[:] += 0.02 * brightest / 0.4
    assert view(ds, **clocks).together("ghi", "dhi", "dni").tolist() == [False]


def test_has_needs_every_variable() -> None:
    """All of those named."""
    assert view().has("ghi", "dhi")
    assert not view().has("ghi", "ghi_at_far")


@pytest.mark.parametrize(("interval", "steps"), [(60, 15), (600, 1), (3600, 1), (None, 15)])
def test_steps_of_a_quarter_of_an_hour(interval: int | None, steps: int) -> None:
    """Whole intervals, at least one; minutes where nothing is said."""
    ds = quiet_minutes(3)
    ds.attrs.pop("interval", None)
    if interval is not None:
        ds.attrs["interval"] = interval
    assert view(ds).steps(15) == steps


def test_residual_follows_the_dated_primary_to_its_logger() -> None:
    """From the change on the other logger's clock counts."""
    row = {"quantity": "ghi", "unit": "mV"}
    loggers = {
        "near": logger((), channels=[row | {"column": "a", "position": "global_1"}]),
        "far": logger((), channels=[row | {"column": "b", "position": "diffuse_1"}]),
    }
    change = {"from": MARCH + 120, "quantity": "ghi", "position": "diffuse_1"}
    resolved = period(station_config(loggers, primary=[change]))
    ds = xr.Dataset(
        {
            "clock_residual_near": ("time", [1.0, 2.0, 3.0, 4.0]),
            "clock_residual_far": ("time", [-1.0, -2.0, np.nan, -4.0]),
        },
        coords={"time": MARCH + 60 * np.arange(4, dtype=np.int64)},
    )
    assert_array_equal(clock_residual(ds, resolved, "ghi"), [1.0, 2.0, np.nan, -4.0])


def test_whole_sky_is_known_also_where_clocks_are_apart() -> None:
    """For tests of what lasts; without a difference of clocks it is the same sky."""
    three = dict.fromkeys(("ghi", "dhi", "dni"), np.zeros(3))
    ds = quiet_minutes(3)
    ds["ghi"].values[1] += 200.0  # unsteady light
    same = view(ds, **three)
    assert same.whole_sky is same.sky
    parted = view(ds, **(three | {"dni": np.full(3, 30.0)}))
    assert not parted.sky.known[1]
    assert parted.whole_sky.known.all()
    assert_array_equal(parted.whole_sky.residual, same.sky.residual)


def test_behind_an_uncorrected_band_nothing_is_compared() -> None:
    """Closure and diffuse over global are not evaluated; the condition stays."""
    ds = quiet_minutes(120)
    ds["dhi_conditions"].values[60:64] = CONDITIONS["shade_band_uncorrected"].mask
    assert np.flatnonzero(~whole_diffuse(ds)).tolist() == [60, 61, 62, 63]
    out = qc_flag(ds, six_quantities())
    for name in ("components_disagree", "components_disagree_for_long", "diffuse_above_global"):
        tested = (out["dhi_tested"].values & TESTS[name].mask) != 0
        assert not tested[60:64].any()
        assert tested[30:60].all()
