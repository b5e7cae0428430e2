"""Each test alone: a hand-made minute in which exactly the intended bit falls."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_array_equal

from hand_minutes import COSINE, VALUES, ZENITH, put, quiet_minutes, raised, six_quantities, where
from sunledger.stages.qc_flag import qc_flag
from sunledger.stages.qc_tests import CATALOGUE
from sunledger.vocabulary import AIR_TESTED, LONGWAVE, RADIOMETRIC, SHORTWAVE, TESTS

HERE = 10
# need what a quiet half hour by day has not: limits of a site, a night, a twin, a skyline, an hour
ELSEWHERE = (
    "outside_site_limits",
    "night_offset_large",
    "twins_disagree",
    "below_horizon_profile",
    "components_disagree_for_long",
    "frost_or_ventilation",
    "soiled",
)
THREE = ("ghi", "dhi", "dni")


def flagged(ds: xr.Dataset, settings: dict[str, Any] | None = None) -> xr.Dataset:
    """The minutes with their words."""
    return qc_flag(ds, six_quantities(settings))


def test_nothing_is_wrong_with_a_quiet_half_hour() -> None:
    """No flag; and every test that is meant for a quantity could run."""
    out = flagged(quiet_minutes())
    assert raised(out) == {}
    for test in CATALOGUE:
        for quantity in (q for q in test.quantities if q in VALUES):
            could = where(out, quantity, test.name, "tested")
            if test.name not in ELSEWHERE:
                assert could.all(), (test.name, quantity)


Change = Callable[[xr.Dataset], None]


def setting(**values: float) -> Change:
    """Other values in one minute."""

    def change(ds: xr.Dataset) -> None:
        for name, value in values.items():
            if name in VALUES:
                put(ds, name, HERE, value)
            else:
                ds[name].values[HERE] = value

    return change


RARE_MAX, PHYSICAL_MAX = {"above_rare_maximum"}, {"above_rare_maximum", "above_physical_maximum"}
RARE_MIN, PHYSICAL_MIN = {"below_rare_minimum"}, {"below_rare_minimum", "below_physical_minimum"}


def all_of(quantities: tuple[str, ...], name: str) -> dict[str, set[str]]:
    """The same single bit for several quantities."""
    return {quantity: {name} for quantity in quantities}


SPIKE, DOWN_UP = {"spike", "changes_too_fast"}, {"longwave_down_against_up"}
CLOSURE = {"ghi": {"components_disagree", "spike"}}  # it alone left its neighbours
NAN = float("nan")
QUIET_AIR = {"air_temperature": NAN, "lwu": NAN}
GONE = {"lwu": {"missing"}}

CASES: dict[str, tuple[Change, dict[str, set[str]]]] = {
    "missing": (setting(swu=NAN), {"swu": {"missing"}}),
    "over range": (setting(swu=NAN, swu_over_range=True), {"swu": {"missing", "over_range"}}),
    "global rare": (setting(ghi=1300.0, dhi=700.0, dni=600 / COSINE), {"ghi": RARE_MAX}),
    "global physical": (
        setting(ghi=1600.0, dhi=700.0, dni=900 / COSINE),
        {"ghi": PHYSICAL_MAX},
    ),
    "diffuse rare": (setting(ghi=800.0, dhi=800.0, dni=0.0), {"dhi": RARE_MAX}),
    "diffuse physical": (setting(ghi=1000.0, dhi=1000.0, dni=0.0), {"dhi": PHYSICAL_MAX}),
    "direct rare": (setting(ghi=100 + 1300 * COSINE, dni=1300.0), {"dni": RARE_MAX}),
    "direct physical": (setting(ghi=100 + 1400 * COSINE, dni=1400.0), {"dni": PHYSICAL_MAX}),
    "reflected rare": (setting(swu=1060.0), {"swu": RARE_MAX}),
    "reflected physical": (setting(swu=1260.0), {"swu": PHYSICAL_MAX | {"changes_too_fast"}}),
    "reflected low": (setting(swu=-3.0), {"swu": RARE_MIN}),
    "reflected lower": (setting(swu=-5.0), {"swu": PHYSICAL_MIN}),
    "longwave rare": (setting(lwd=510.0, **QUIET_AIR), {"lwd": RARE_MAX | SPIKE} | GONE),
    "longwave physical": (setting(lwd=710.0, **QUIET_AIR), {"lwd": PHYSICAL_MAX | SPIKE} | GONE),
    "longwave low": (setting(lwd=50.0, **QUIET_AIR), {"lwd": RARE_MIN | SPIKE} | GONE),
    "longwave lower": (setting(lwd=39.0, **QUIET_AIR), {"lwd": PHYSICAL_MIN | SPIKE} | GONE),
    "up rare": (
        setting(lwu=710.0, lwd=NAN, air_temperature=NAN),
        {"lwu": RARE_MAX | SPIKE, "lwd": {"missing"}},
    ),
    "closure": (setting(ghi=VALUES["ghi"] * 1.09), CLOSURE),
    "closure, low": (setting(ghi=VALUES["ghi"] * 0.91), CLOSURE),
    "at the closure limit": (setting(ghi=VALUES["ghi"] * 1.079), {"ghi": {"spike"}}),
    "diffuse above global": (
        setting(ghi=200.0, dhi=212.0, dni=0.0),
        {"ghi": {"diffuse_above_global"}, "dhi": {"diffuse_above_global"}},
    ),
    "air": (
        setting(air_temperature=230.0),
        all_of(LONGWAVE, "longwave_against_air_temperature"),
    ),
    "down against up": (
        setting(lwu=270.0, air_temperature=275.0),
        {"lwd": DOWN_UP, "lwu": DOWN_UP | SPIKE},
    ),
    "polarity": (setting(swu=-40.0), {"swu": PHYSICAL_MIN | {"polarity_reversed"}}),
    "minimum above mean": (setting(swu_min=140.6), {"swu": {"spread_inconsistent"}}),
    "maximum below mean": (setting(lwd_max=299.4), {"lwd": {"spread_inconsistent"}}),
    "deviation beyond half the range": (setting(swu_std=1.6), {"swu": {"spread_inconsistent"}}),
    "negative deviation": (setting(swu_std=-0.1), {"swu": {"spread_inconsistent"}}),
    "tracker off": (setting(tracker_mode=0.0), all_of(("dhi", "dni"), "tracker_off_sun")),
    "tracker fault": (
        setting(tracker_mode=3.0),
        all_of(("dhi", "dni"), "tracker_off_sun"),
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_exactly_the_intended_bit_falls(case: str) -> None:
    """In that minute and quantity, and nowhere else."""
    change, expected = CASES[case]
    ds = quiet_minutes()
    change(ds)
    assert raised(flagged(ds)) == {(q, HERE): names for q, names in expected.items()}


def always(**values: float) -> Change:
    """Other values in every minute."""

    def change(ds: xr.Dataset) -> None:
        for name, value in values.items():
            put(ds, name, slice(None), value)

    return change


HARMLESS = {
    "inside the closure of an hour": always(ghi=VALUES["ghi"] * 1.025),
    "just under the global": setting(ghi=200.0, dhi=209.0, dni=0.0),
    "night zero": setting(swu=-1.9),
    "rounded minimum": setting(swu_min=140.4),
    "homing": setting(tracker_mode=2.0),
    "tracking by clock": setting(tracker_mode=4.0),
    "mode unknown": setting(tracker_mode=NAN),
}


@pytest.mark.parametrize("case", HARMLESS)
def test_what_is_natural_is_left_alone(case: str) -> None:
    """Just inside a limit, or a word that is no failure."""
    ds = quiet_minutes()
    HARMLESS[case](ds)
    assert raised(flagged(ds)) == {}


# --- what could not run --------------------------------------------------------------------


@pytest.mark.parametrize("quantity", THREE)
def test_closure_is_not_tested_without_a_component(quantity: str) -> None:
    """No false verdict; the word says that it could not run, for all three."""
    ds = quiet_minutes()
    put(ds, quantity, HERE, NAN)
    out = flagged(ds)
    for other in THREE:
        tested = where(out, other, "components_disagree", "tested")
        assert_array_equal(np.flatnonzero(~tested), [HERE])
    assert raised(out) == {(quantity, HERE): {"missing"}}


def test_nothing_but_missing_is_tested_where_a_value_is_missing() -> None:
    """And whether it was over-range."""
    ds = quiet_minutes()
    for quantity in VALUES:
        put(ds, quantity, HERE, NAN)
    out = flagged(ds)
    for quantity in VALUES:
        tested = {n for n in TESTS if where(out, quantity, n, "tested")[HERE]}
        # tracker and ventilator speak for themselves
        allowed = {"missing", "over_range", "tracker_off_sun", "frost_or_ventilation"}
        assert {"missing", "over_range"} <= tested <= allowed


def test_comparison_with_air_needs_the_air_temperature() -> None:
    """A gap in it, or no such channel at all."""
    ds = quiet_minutes()
    ds["air_temperature"].values[HERE] = NAN
    name = "longwave_against_air_temperature"
    assert_array_equal(np.flatnonzero(~where(flagged(ds), "lwd", name, "tested")), [HERE])
    assert not where(flagged(ds.drop_vars("air_temperature")), "lwd", name, "tested").any()


@pytest.mark.parametrize(
    ("drop", "name"),
    [
        (["ghi_min"], "spread_inconsistent"),
        (["ghi_fingerprint"], "stuck_value"),
    ],
)
def test_what_was_not_logged_cannot_be_tested(drop: list[str], name: str) -> None:
    """Without the minima, or the signal."""
    out = flagged(quiet_minutes().drop_vars(drop))
    assert not where(out, "ghi", name, "tested").any()
    assert where(out, "dhi", name, "tested").all()


def test_spread_without_a_deviation() -> None:
    """Minimum and maximum are judged alone."""
    ds = quiet_minutes().drop_vars("swu_std")
    ds["swu_min"].values[HERE] = 141.0
    assert raised(flagged(ds)) == {("swu", HERE): {"spread_inconsistent"}}


# --- published limits ----------------------------------------------------------------------

# Long & Dutton, BSRN recommended QC tests V2.0 (quoted second-hand), worked out for
# Sa = 1361 W m-2 and printed to 0.1: zenith → limits in the order of COLUMNS.
PUBLISHED = {
    0.0: (2141.5, 1683.2, 1343.0, 1050.8, 1303.0),
    30.0: (1817.9, 1424.3, 1138.0, 888.9, 1266.3),
    60.0: (988.6, 760.9, 612.8, 474.3, 1135.6),
    75.0: (503.2, 372.6, 305.4, 231.6, 996.7),
    85.0: (209.2, 137.4, 119.2, 84.6, 803.7),
}
COLUMNS = [
    ("ghi", "above_physical_maximum"),
    ("ghi", "above_rare_maximum"),
    ("dhi", "above_physical_maximum"),
    ("dhi", "above_rare_maximum"),
    ("dni", "above_rare_maximum"),
]


@pytest.mark.parametrize("column", range(5), ids=[" ".join(c) for c in COLUMNS])
@pytest.mark.parametrize("zenith", PUBLISHED)
def test_published_upper_limits(zenith: float, column: int) -> None:
    """Half the last printed digit below is within, half above is beyond."""
    quantity, name = COLUMNS[column]
    printed = PUBLISHED[zenith][column]
    ds = quiet_minutes(2, zenith, {quantity: [printed - 0.0501, printed + 0.0501]})
    assert where(flagged(ds), quantity, name).tolist() == [False, True]


@pytest.mark.parametrize(
    ("quantity", "level", "minimum", "maximum"),
    [
        # from memory of Long & Dutton V2.0
        ("lwd", "physical", 40.0, 700.0),
        ("lwd", "rare", 60.0, 500.0),
        ("lwu", "physical", 40.0, 900.0),
        ("lwu", "rare", 60.0, 700.0),
        # quoted second-hand
        ("ghi", "physical", -4.0, None),
        ("ghi", "rare", -2.0, None),
        ("dni", "physical", -4.0, 1361.0),
    ],
)
def test_published_constant_limits(
    quantity: str, level: str, minimum: float, maximum: float | None
) -> None:
    """A value equal to the limit is within."""
    low = quiet_minutes(2, values={quantity: [minimum, minimum - 0.01]})
    assert where(flagged(low), quantity, f"below_{level}_minimum").tolist() == [False, True]
    if maximum is not None:
        high = quiet_minutes(2, values={quantity: [maximum, maximum + 0.01]})
        assert where(flagged(high), quantity, f"above_{level}_maximum").tolist() == [False, True]


def test_limits_use_each_quantity_s_own_sun() -> None:
    """The zenith at the true middle of the quantity's minute, not the file's."""
    ds = quiet_minutes(2, 60.0, {"ghi": 900.0, "dhi": 500.0, "dni": 800.0})
    ds["ghi_cosine_zenith"].values[1] = np.cos(np.radians(45.0))
    assert where(flagged(ds), "ghi", "above_rare_maximum").tolist() == [True, False]


def test_longwave_against_air_by_the_published_numbers() -> None:
    """Ta 273.15 K: 126.3 to 340.7; 300 K: 183.7 to 484.3 (from memory of Long & Dutton)."""
    for kelvin, low, high in ((273.15, 126.3, 340.7), (300.0, 183.7, 484.3)):
        values = [low - 0.06, low + 0.06, high - 0.06, high + 0.06]
        ds = quiet_minutes(4, values={"lwd": values})
        ds["air_temperature"].values[:] = kelvin
        got = where(flagged(ds), "lwd", "longwave_against_air_temperature")
        assert got.tolist() == [True, False, False, True]


# --- stuck ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("quantity", "run", "fails"),
    [("ghi", 20, True), ("ghi", 19, False), ("lwd", 20, True), ("lwd", 19, False)],
)
def test_stuck_for_longer_than_is_natural(quantity: str, run: int, fails: bool) -> None:
    """Twenty minutes; every minute of the run is marked."""
    ds = quiet_minutes(120)
    ds[f"{quantity}_fingerprint"].values[30 : 30 + run] = 7.5
    got = np.flatnonzero(where(flagged(ds), quantity, "stuck_value"))
    assert_array_equal(got, np.arange(30, 30 + run) if fails else [])


def test_stuck_at_night_is_natural() -> None:
    """Zero may stand still where there is no light; longwave has no night."""
    ds = quiet_minutes(120, 120.0, dict.fromkeys(SHORTWAVE, 0.0))
    for quantity in VALUES:
        ds[f"{quantity}_fingerprint"].values[:] = 7.5
    out = flagged(ds)
    assert not any(where(out, q, "stuck_value", "tested").any() for q in SHORTWAVE)
    assert all(where(out, q, "stuck_value").all() for q in LONGWAVE)


def test_a_gap_ends_a_run() -> None:
    """Ten minutes on either side of a gap are two runs."""
    ds = quiet_minutes(40)
    ds["ghi_fingerprint"].values[:] = 7.5
    ds["ghi_fingerprint"].values[20] = NAN
    put(ds, "ghi", 20, NAN)
    ds["ghi_fingerprint"].values[:10] = np.arange(10)
    got = np.flatnonzero(where(flagged(ds), "ghi", "stuck_value"))
    assert got.size == 0


# --- settings, the catalogue -----------------------------------------------------------------


def test_site_limits_and_own_limits() -> None:
    """A site's own limits have their own bit; own rare limits replace the published ones."""
    own = {"minimum": -1.0, "factor": 0.5, "exponent": 1.0, "offset": 20.0}
    limit = 0.5 * 1361.0 * COSINE + 20.0
    ds = quiet_minutes(3, values={"swu": [limit - 0.01, limit + 0.01, -1.5]})
    site = flagged(ds, {"qc_flag": {"limits": {"swu": {"site": own}}}})
    assert where(site, "swu", "outside_site_limits").tolist() == [False, True, True]
    assert not where(site, "dhi", "outside_site_limits", "tested").any()
    rare = flagged(ds, {"qc_flag": {"limits": {"swu": {"rare": own}}}})
    assert where(rare, "swu", "above_rare_maximum").tolist() == [False, True, False]
    assert where(rare, "swu", "below_rare_minimum").tolist() == [False, False, True]


def test_tracker_is_not_judged_below_the_horizon() -> None:
    """It may rest at night."""
    ds = quiet_minutes(1, 90.5, dict.fromkeys(SHORTWAVE, 0.0))
    ds["tracker_mode"].values[:] = 0.0
    assert not where(flagged(ds), "dni", "tracker_off_sun", "tested").any()


def test_catalogue_names_bits_and_quantities_once() -> None:
    """In the order of the bits; what a test may judge exists."""
    names = [test.name for test in CATALOGUE]
    assert len(set(names)) == len(names)
    assert names == sorted(names, key=lambda n: TESTS[n].position)
    assert all(set(test.quantities) <= {*RADIOMETRIC, *AIR_TESTED} for test in CATALOGUE)
    assert ZENITH < 75.0
