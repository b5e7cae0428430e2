"""Which budget holds where: class, certificate, station, corrections and the record."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

import signal_ways
from invented import DAY, KINDS, MARCH, certificate, instrument, logger, period, station_config
from sunledger.config.coefficients import Coefficients
from sunledger.config.corrections import Corrections, Directional, OffsetModel
from sunledger.config.models.processing import Processing
from sunledger.physics.gum import combined_standard_uncertainty
from sunledger.physics.uncertainty import contributions
from sunledger.stages.budgets import components_of, lag_of, pieces
from sunledger.stages.surroundings import surroundings
from sunledger.vocabulary import CONDITIONS

EVERY = [instrument(p, certificate(p)) for p in KINDS]


def row_of(position: str, **changes: Any) -> Coefficients:
    """The resolved coefficients of a position."""
    rows = period(station_config(instruments=EVERY)).coefficients
    return replace(next(r for r in rows if r.position == position), **changes)


def widths(row: Coefficients) -> dict[str, float]:
    """Component → width."""
    return {c.name: c.width for c in components_of(row)}


def sizes(config: Any, position: str, start: int = MARCH, **one: Any) -> dict[str, np.ndarray]:
    """Contributions at steady light around noon on the equator of the day."""
    resolved = period(config, start)
    time = start + 60 * np.arange(1440)
    values = {"mean": np.full(1440, 500.0), "body_temperature": np.full(1440, 280.0)} | one
    zenith = np.full(1440, 40.0)
    around = surroundings({"dni": np.full(1440, 600.0)}, time, zenith, resolved, 60)
    (piece,) = pieces(position, values, around, resolved)
    found = contributions(piece.components, piece.situation)
    return {n: np.broadcast_to(v, (1440,)) for n, v in found.items()}


def whole(parts: dict[str, np.ndarray]) -> np.ndarray:
    return combined_standard_uncertainty(list(parts.values()))


def test_months_of_a_certificate_share_its_budget() -> None:
    """It is put together once, wherever the period ends that asks for it."""
    config = station_config(instruments=EVERY)
    found = []
    for start in (MARCH, MARCH + 40 * DAY):
        resolved, time = period(config, start), start + 60 * np.arange(1440)
        around = surroundings({}, time, np.full(1440, 40.0), resolved, 60)
        found += pieces("global_1", {"mean": np.full(1440, 500.0)}, around, resolved)
    first, second = found
    assert first.row == second.row
    assert first.components is second.components


@pytest.mark.parametrize(("percent", "k"), [(1.2, 2.0), (3.0, 2.0), (3.0, 3.0)])
def test_certificate_enters_as_stated(percent: float, k: float) -> None:
    """u(R)/R = U/k; the width of a normal law has k = 2 (JCGM 100:2008, 6.2)."""
    row = row_of("global_1", relative_uncertainty=percent / 100 / k)
    assert widths(row)["calibration"] == pytest.approx(2 * percent / k)


@pytest.mark.parametrize("position", ["global_1", "direct_1"])
def test_a_lower_class_is_less_certain(position: str) -> None:
    """A before B before C; an instrument without a class counts as C, the careful side."""
    a, b, c, none = (widths(row_of(position, iso_class=n)) for n in ("A", "B", "C", None))
    for name in ("non_stability", "non_linearity", "temperature", "zero_offset_b"):
        assert a[name] < b[name] < c[name]
    assert none == c


def test_an_applied_correction_reduces_its_component() -> None:
    """With the certificate's temperature response 0.3 % are left of 1 %."""
    response = ((-20.0, -0.6), (40.0, 0.3))
    before = widths(row_of("global_1"))
    after = widths(row_of("global_1", temperature_response=response))
    assert (before["temperature"], after["temperature"]) == (1.0, 0.3)
    assert {n: w for n, w in before.items() if n != "temperature"} == {
        n: w for n, w in after.items() if n != "temperature"
    }


@pytest.mark.parametrize(
    ("step", "component", "left"),
    [
        ({"polynomial": (1e-4,)}, "temperature", 0.3),
        ({"non_linearity": ((500.0, 0.2),)}, "non_linearity", 0.1),
        ({"directional": Directional((0.0,), (0.0,), ((0.0,),), 0.0)}, "directional", 3.0),
    ],
)
def test_every_correction_reduces_its_own_component(
    step: dict[str, Any], component: str, left: float
) -> None:
    """And no other."""
    before = widths(row_of("global_1"))
    after = widths(row_of("global_1", corrections=Corrections(**step)))
    assert {n: w for n, w in after.items() if w != before[n]} == {component: left}


def offset_model(method: str) -> Corrections:
    """Three hundredths of the net longwave, twice that by day."""
    return Corrections(thermal_offset=OffsetModel(method, None, 0.0, 0.03, 0.0, 2.0))


def test_a_corrected_thermal_offset_leaves_its_own_component() -> None:
    """2 of the 7 W m-2 of the class, under a name that says so; nothing else changes."""
    before = widths(row_of("global_1"))
    after = widths(row_of("global_1", corrections=offset_model("night")))
    assert before.pop("zero_offset_a") == 7.0
    assert after.pop("thermal_offset_correction") == 2.0
    assert after == before


def test_a_correction_with_net_longwave_adds_the_terms_of_its_equation() -> None:
    """E = (V - R_net W_net) / S: 10 % of R_net, 5 W m-2 of W_net; by hand, at 100 W m-2."""
    resolved = period(station_config(instruments=EVERY))
    rows = tuple(
        replace(r, corrections=offset_model("pyrgeometer")) if r.position == "global_1" else r
        for r in resolved.coefficients
    )
    resolved, time = replace(resolved, coefficients=rows), MARCH + 60 * np.arange(3)
    around = surroundings({}, time, np.full(3, 40.0), resolved, 60)
    (piece,) = pieces("global_1", {"mean": np.full(3, 500.0)}, around, resolved)
    found = contributions(piece.components, piece.situation)
    assert_allclose(found["thermal_sensitivity"], 0.1 * 0.06 * 100.0 / np.sqrt(3))
    assert_allclose(found["net_longwave"], 0.06 * 5.0 / np.sqrt(3))
    assert_allclose(found["thermal_offset_correction"], 2.0 * 100.0 / 200.0 / np.sqrt(3))


def test_certificate_before_class_and_station_before_certificate() -> None:
    """The station's non-linearity, the certificate's spectral error, the class's for the rest."""
    stated = {
        "spectral": {"width": 0.1, "source": "measured"},
        "non_linearity": {"width": 0.2, "source": "measured"},
    }
    mine = [instrument(p, certificate(p, **_budget(p, stated))) for p in KINDS]
    site = {"non_linearity": {"width": 0.05, "law": "triangular", "source": "own study"}}
    rows = period(station_config(instruments=mine, budget={"ghi": site})).coefficients
    row = next(r for r in rows if r.position == "global_1")
    found = {c.name: c for c in components_of(row)}
    assert (found["spectral"].width, found["spectral"].source) == (0.1, "measured")
    assert (found["non_linearity"].width, found["non_linearity"].law) == (0.05, "triangular")
    assert found["temperature"].width == 1.0


def _budget(position: str, stated: dict[str, Any]) -> dict[str, Any]:
    return {"budget": stated} if position == "global_1" else {}


def test_shade_takes_the_beam_away_and_adds_its_geometry() -> None:
    """A shaded pyranometer has no directional error of the beam but one of the shade."""
    shaded = [
        {"id": "d", "type": "deployment", "from": "2030-07-01", "shade": "disc", "role": "keeper",
         "instrument": "NR-diffuse_1", "position": "diffuse_1", "corrects": "dep-diffuse_1",
         "reason": "shade forgotten"}
    ]  # fmt: skip
    found = sizes(station_config(entries=shaded), "diffuse_1")
    assert not found["directional"].any()
    assert (found["shade_geometry"] > 0).all()
    assert (sizes(station_config(), "global_1")["directional"] > 0).all()


# --- the record --------------------------------------------------------------------------------


def test_an_expired_calibration_grows() -> None:
    """After three years three times the yearly change of the class, in the first year once."""
    old = [instrument(p, certificate(p, date="2028-03-16")) for p in KINDS]
    mine, theirs = (
        sizes(station_config(instruments=i), "global_1")["non_stability"] for i in (old, EVERY)
    )
    assert_allclose(mine, 3.0 * theirs, rtol=2e-3)
    assert_allclose(theirs, 500.0 * 0.008 / np.sqrt(3))


def test_a_bad_level_check_enlarges_the_minutes_before() -> None:
    """1 degree off at noon: 600 W m-2 sin 40 sin 1 before, a tenth after (0.1 degree)."""
    check = {"id": "lv", "type": "level_check", "time": "2031-03-16T12:00:00", "role": "keeper",
             "position": "global_1", "found": {"size": 1.0}, "left": {"size": 0.0}}  # fmt: skip
    found = sizes(station_config(entries=[check]), "global_1")["level"]
    by_hand = 600.0 * np.sin(np.radians(40.0)) * np.sin(np.radians(1.0)) / np.sqrt(3)
    assert_allclose(found[:720], by_hand)
    assert_allclose(found[720:], by_hand / 10, rtol=1e-3)


def test_a_soiled_period_adds_its_bound() -> None:
    """2 % of 500 W m-2, rectangular, for the minutes that the record calls soiled.

    Or what the entry states: 5 %. A minute that the time touches counts whole.
    """
    wash = {"id": "cl", "type": "cleaning", "time": MARCH + 200 * 60, "positions": ["global_1"],
            "found": "dust", "role": "keeper", "soiled_since": MARCH + 100 * 60 + 30}  # fmt: skip
    for stated, bound in (({}, 2.0), ({"soiling_bound": 5.0}, 5.0)):
        config = station_config(entries=[wash | stated])
        found = sizes(config, "global_1")["soiling"]
        assert_allclose(found[100:200], 500.0 * bound / 100 / np.sqrt(3))
        assert not np.delete(found, np.s_[100:200]).any()
        assert not sizes(config, "direct_1")["soiling"].any()


# --- timing ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("response", "lag"), [(6.0, 2.0), (None, 10.0)])
def test_lag_is_a_third_of_the_response_time(response: float | None, lag: float) -> None:
    """95 % after three time constants (1 - exp(-3) = 0.95); unknown counts as class C, 30 s."""
    assert lag_of(row_of("global_1", response_time=response)) == pytest.approx(lag)


def test_timing_in_changing_light_by_hand() -> None:
    """30 s of residual, 10 s of lag and 1 s of a clock on a signal, of 60 s of a step of 120."""
    signal = {"main": logger(tuple(KINDS), clock={"discipline": "time_signal"})}
    light = np.where(np.arange(1440) < 700, 500.0, 620.0)
    residual = np.full(1440, -30.0)
    found = sizes(station_config(signal), "global_1", mean=light, residual=residual)["clock"]
    step = 120.0 * 41.0 / 60.0 / np.sqrt(3)
    assert_allclose(found[698:702], [0.0, step, step, 0.0])


# --- longwave ----------------------------------------------------------------------------------


def test_pyrgeometer_by_hand() -> None:
    """At 280 K: net 500 - sigma T**4 = 151.48 W m-2, of which U = 1.2 % with k = 2; 0.1 K."""
    found = sizes(station_config(), "sky_1")
    net = 500.0 - 5.670374419e-8 * 280.0**4
    assert_allclose(found["calibration"], 0.006 * net)
    assert_allclose(found["body_temperature"], 4 * 5.670374419e-8 * 280**3 * 0.1 / np.sqrt(3))
    assert not found["dome_factor"].any()


def test_pyrgeometer_without_body_temperature() -> None:
    """Nothing is known without it."""
    missing = np.full(1440, np.nan)
    assert np.isnan(whole(sizes(station_config(), "sky_1", body_temperature=missing))).all()


@pytest.mark.parametrize("position", list(KINDS))
def test_uncertainty_grows_with_the_irradiance(position: str) -> None:
    """Part of it is relative."""
    light = np.repeat([310.0, 400.0, 600.0, 1000.0], 360)
    got = whole(sizes(station_config(), position, mean=light))
    steady = got[[100, 500, 900, 1300]]
    expected = steady if position != "sky_1" else steady[1:]
    assert (np.diff(expected) > 0).all()


def test_certified_gain_in_place_of_the_loggers_default() -> None:
    """By hand: 0.02 % and 0.02 %, k = 2, of multiplexer and logger make 0.0283 %, k = 2."""
    config = signal_ways.station(signal_ways.LOGGER, signal_ways.BOX, entries=[signal_ways.UP])
    assert sizes(config, "global_1")["logger_gain"] == pytest.approx(500 * 1e-4 * 2**0.5)
    # 0.01 % rectangular for a logger without a certificate
    assert sizes(config, "diffuse_1")["logger_gain"] == pytest.approx(500 * 1e-4 / 3**0.5)


def test_gain_uncertain_only_while_certified() -> None:
    """The multiplexer came at noon; before, the default holds, and no minute has two budgets."""
    late = {**signal_ways.UP, "from": "2031-03-16 12:00"}
    config = signal_ways.station(signal_ways.LOGGER, signal_ways.BOX, entries=[late])
    resolved, time = period(config), MARCH + 60 * np.arange(1440)
    around = surroundings({}, time, np.full(1440, 40.0), resolved, 60)
    found = pieces("global_1", {"mean": np.full(1440, 500.0)}, around, resolved)
    minutes = [np.arange(1440)[p.where] for p in found]
    assert [(m[0], m[-1]) for m in minutes] == [(0, 719), (720, 1439)]
    gains = [next(c for c in p.components if c.name == "logger_gain") for p in found]
    assert [g.law for g in gains] == ["rectangular", "normal"]
    assert gains[1].source == "certificate NR-MX-1-2030-01-01, NR-LG-1-2031-02-01"


def test_a_correction_that_could_not_be_applied_leaves_the_class() -> None:
    """By hand: 1 % of class A in place of the 0.3 % that the correction leaves, where it failed."""
    warm = certificate("global_1", temperature_response=[[0.0, -1.0], [40.0, 1.0]])
    every = [instrument(p, *([warm] if p == "global_1" else [certificate(p)])) for p in KINDS]
    resolved, time = period(station_config(instruments=every)), MARCH + 60 * np.arange(1440)
    around = surroundings({}, time, np.full(1440, 40.0), resolved, 60)
    words = np.zeros(1440, np.int32)
    words[:100] = CONDITIONS["correction_not_applied"].mask
    values = {"mean": np.full(1440, 500.0), "conditions": words}
    found = pieces("global_1", values, around, resolved)
    widths = [{c.name: c.width for c in p.components}["temperature"] for p in found]
    minutes = [np.arange(1440)[p.where] for p in found]
    assert widths == [0.3, 1.0]
    assert [(m[0], m[-1]) for m in minutes] == [(100, 1439), (0, 99)]
    (whole,) = pieces("global_1", {"mean": values["mean"]}, around, resolved)
    assert {c.name: c.width for c in whole.components}["temperature"] == 0.3


@pytest.mark.parametrize("stated", [0.0, 0.02])
def test_no_certified_gain_without_its_uncertainty_or_its_use(stated: float) -> None:
    """A certificate that states none, or a gain that is not applied, leaves the default."""
    devices = [
        {**d, "inputs": [{**c, "expanded_uncertainty": stated} for c in d["inputs"]]}
        for d in (signal_ways.LOGGER, signal_ways.BOX)
    ]
    config = signal_ways.station(*devices, entries=[signal_ways.UP])
    steps = {} if stated == 0.0 else {"corrections": ["logger_zero"]}
    settings = Processing.model_validate({"calibrate": steps})
    resolved, time = period(config, processing=settings), MARCH + 60 * np.arange(1440)
    around = surroundings({}, time, np.full(1440, 40.0), resolved, 60)
    (piece,) = pieces("global_1", {"mean": np.full(1440, 500.0)}, around, resolved)
    assert {c.name: c.width for c in piece.components}["logger_gain"] == 0.01
