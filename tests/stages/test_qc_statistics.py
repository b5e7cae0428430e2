"""One signal by itself: frozen, contradictory, too fast."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_array_equal

from hand_minutes import put, quiet_minutes, six_quantities, where
from sunledger.stages.qc_flag import qc_flag
from sunledger.stages.qc_statistics import steps_beside
from sunledger.vocabulary import CONDITIONS, TESTS, mask_of

NAN = np.nan
AIR = {"air_temperature": 280.0, "relative_humidity": 0.6, "air_pressure": 80000.0}


def flagged(ds: xr.Dataset, settings: dict[str, Any] | None = None) -> xr.Dataset:
    """The minutes with their words."""
    return qc_flag(ds, six_quantities(settings))


def with_air(size: int = 8, **changes: dict[int, float]) -> xr.Dataset:
    """Quiet minutes with air quantities, some values changed."""
    ds = quiet_minutes(size)
    added: dict[str, Any] = {}
    for quantity, plain in AIR.items():
        values = np.full(size, plain)
        for place, value in changes.get(quantity, {}).items():
            values[place] = value
        added |= {quantity: values, f"{quantity}_conditions": np.zeros(size, np.int32)}
    return ds.assign({name: ("time", values) for name, values in added.items()})


def test_steps_to_either_neighbour() -> None:
    """Before and after; none at the ends and beside a gap."""
    before, after = steps_beside([1.0, 4.0, NAN, 2.0, 2.5])
    assert_array_equal(before, [NAN, 3.0, NAN, NAN, 0.5])
    assert_array_equal(after, [3.0, NAN, NAN, 0.5, NAN])
    assert np.isnan(steps_beside([1.0])).all()


def test_a_lone_minute_fails_alone() -> None:
    """Its neighbours agree; two such minutes in a row fail together with their neighbours."""
    ds = quiet_minutes(12)
    put(ds, "swu", 3, 1241.0)
    put(ds, "swu", [7, 8], 1241.0)
    got = where(flagged(ds), "swu", "changes_too_fast")
    assert np.flatnonzero(got).tolist() == [3, 6, 7, 8, 9]


@pytest.mark.parametrize(
    ("quantity", "step"),
    [
        ("air_temperature", 3.0),
        ("relative_humidity", 0.15),
        ("air_pressure", 200.0),
    ],
)
def test_air_that_changes_too_fast(quantity: str, step: float) -> None:
    """3 K, 15 %, 2 hPa a minute (WMO guidelines on automatic stations, 2004; from memory)."""
    for more, found in ((1.01, True), (0.99, False)):
        ds = with_air(8, **{quantity: {i: AIR[quantity] + more * step for i in range(4, 8)}})
        got = np.flatnonzero(where(flagged(ds), quantity, "changes_too_fast")).tolist()
        assert got == ([3, 4] if found else [])
    assert flagged(with_air(8, **{quantity: {4: NAN}}))[f"{quantity}_grade"].values[3] == 1


def test_irradiance_that_changes_too_fast() -> None:
    """1000 W m-2 a minute (same source), of longwave 100 (common practice); both sides fail."""
    ds = quiet_minutes(8, values={"lwd": 250.0})
    put(ds, "swu", slice(4, None), 140.0 + 1001.0)
    put(ds, "lwd", slice(4, None), 250.0 + 101.0)
    out = flagged(ds)
    for quantity in ("swu", "lwd"):
        assert np.flatnonzero(where(out, quantity, "changes_too_fast")).tolist() == [3, 4]
        assert where(out, quantity, "changes_too_fast", "tested").all()
    put(ds, "swu", slice(4, None), 140.0 + 999.0)
    put(ds, "lwd", slice(4, None), 250.0 + 99.0)
    out = flagged(ds)
    assert not any(where(out, q, "changes_too_fast").any() for q in ("swu", "lwd"))
    assert out["lwd_grade"].values[4] == 1


def test_longer_means_may_change() -> None:
    """Ten minutes apart anything is possible."""
    ds = quiet_minutes(8)
    put(ds, "swu", slice(4, None), 1241.0)
    long = ds.assign_attrs(interval=600)
    assert not where(flagged(long), "swu", "changes_too_fast", "tested").any()


@pytest.mark.parametrize(
    ("deviations", "step", "found"),
    [
        ((0.0, 0.0), 6.0, [10, 11]),
        ((0.0, 0.0), 4.0, []),
        ((0.0, 0.3), 6.0, []),
        ((0.3, 0.0), 6.0, []),
    ],
)
def test_no_scatter_while_the_mean_moves(
    deviations: tuple[float, float], step: float, found: list[int]
) -> None:
    """Two minutes without any deviation whose means differ by more than 5 W m-2."""
    ds = quiet_minutes(30)
    put(ds, "swu", slice(11, None), 140.0 + step)
    ds["swu_std"].values[[10, 11]] = deviations
    out = flagged(ds)
    assert np.flatnonzero(where(out, "swu", "spread_inconsistent")).tolist() == found


@pytest.mark.parametrize("quantity", ["ghi", "dhi", "dni"])
def test_a_frozen_component_alone_is_held_to_be_wrong(quantity: str) -> None:
    """Its statistics stand still while the others go on, and closure fails by it."""
    ds = quiet_minutes(60)
    factor = 1.0 + 0.002 * np.arange(60)
    for name in ("ghi", "dhi", "dni"):
        put(ds, name, slice(None), ds[name].values * factor)
    put(ds, quantity, slice(20, None), 1.3 * ds[quantity].values[20])
    ds[f"{quantity}_fingerprint"].values[20:] = 7.5
    out = flagged(ds)
    name, at = "components_disagree", slice(24, 60)
    blamed = {q for q in ("ghi", "dhi", "dni") if where(out, q, name)[at].any()}
    assert blamed <= {quantity}
    assert where(out, quantity, "stuck_value")[at].all()
    ds[f"{quantity}_fingerprint"].values[:] = np.arange(60)
    plain = flagged(ds)
    other = {q for q in ("ghi", "dhi", "dni") if where(plain, q, name)[at].any()}
    assert other != set() or quantity == "dhi"


def test_a_component_at_odds_with_its_own_extremes_is_the_wrong_one() -> None:
    """Without them nothing tells under this sky, and all three are flagged."""
    ds = quiet_minutes(30)
    for name in ("dhi", "dni"):
        put(ds, name, slice(None), 0.5 * ds[name].values)
    put(ds, "ghi", slice(None), 0.5 * 1.2 * ds["ghi"].values)
    name = "components_disagree"
    assert all(where(flagged(ds), q, name).all() for q in ("ghi", "dhi", "dni"))
    ds["dhi_max"].values[:] = ds["dhi"].values - 5.0
    out = flagged(ds)
    assert where(out, "dhi", name).all()
    assert not any(where(out, q, name).any() for q in ("ghi", "dni"))


def test_bits_stand_in_the_words() -> None:
    """Both are published: their masks are those of the vocabulary."""
    assert mask_of(TESTS, "changes_too_fast") == 1 << 27
    assert mask_of(CONDITIONS, "supply_low") == 1 << 23
