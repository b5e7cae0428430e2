"""Volts to irradiance: the coefficients in force, each step by hand, and back again."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_allclose, assert_array_equal

from invented import (
    DAY,
    KINDS,
    MARCH,
    QUANTITY,
    certificate,
    deployment,
    instrument,
    irradiances,
    logger,
    period,
    readings,
    station_config,
    timed,
)
from sunledger.config.loading import StationConfig
from sunledger.config.models.base import parse_utc
from sunledger.config.models.processing import Processing
from sunledger.config.resolve import Period
from sunledger.physics.longwave import PyrgeometerCoefficients, pyrgeometer_voltage
from sunledger.physics.thermistor import SteinhartHart, resistance_from_temperature
from sunledger.stages.calibrate import AIR_CONVERSIONS, calibrate
from sunledger.stages.time_correct import time_correct
from sunledger.vocabulary import CONDITIONS

RAMP = [[0.0, -1.0], [20.0, 0.0], [40.0, 2.0]]


def station(*changed: dict[str, Any], **changes: Any) -> StationConfig:
    """The invented station, some of its instruments replaced."""
    mine = {i["serial_number"]: i for i in changed}
    every = [mine.get(f"NR-{p}", instrument(p)) for p in KINDS]
    extra = [i for s, i in mine.items() if s not in {e["serial_number"] for e in every}]
    return station_config(instruments=every + extra, **changes)


def calibrated(
    config: StationConfig, ds: xr.Dataset | None = None, **changes: Any
) -> tuple[xr.Dataset, Period]:
    """Readings of a day, calibrated."""
    resolved = period(config, **changes)
    ds = readings(config, start=resolved.start) if ds is None else ds
    return calibrate(timed(config, resolved, ds), resolved), resolved


def has(ds: xr.Dataset, name: str, position: str = "global_1") -> np.ndarray:
    """Where a condition is set."""
    return (ds[f"{position}_conditions"].values & CONDITIONS[name].mask) != 0


# --- round trips ---------------------------------------------------------------------------


@pytest.mark.parametrize("position", ["global_1", "diffuse_1", "direct_1", "sky_1"])
def test_irradiance_to_volts_to_irradiance(position: str) -> None:
    """Every instrument gives back the irradiance its voltage was made from."""
    out, _ = calibrated(station_config())
    truth = irradiances(1440)[position]
    assert_allclose(out[position], truth, rtol=0, atol=1e-9)
    assert_allclose(out[f"{position}_min"], truth - 1.0, rtol=0, atol=1e-9)
    assert_allclose(out[f"{position}_max"], truth + 1.0, rtol=0, atol=1e-9)
    assert_allclose(out[f"{position}_std"], 0.4, rtol=0, atol=1e-12)


@pytest.mark.parametrize("kind", ["thermopile_pyranometer", "black_and_white_pyranometer"])
def test_round_trip_of_both_pyranometers(kind: str) -> None:
    """The detector makes no difference to the definition of the sensitivity."""
    out, _ = calibrated(station(instrument("global_1", kind=kind)))
    assert_allclose(out["global_1"], irradiances(1440)["global_1"], rtol=0, atol=1e-9)


@pytest.mark.parametrize(("unit", "factor"), [("uV", 1e3), ("mV", 1.0), ("V", 1e-3)])
def test_units_of_the_signal(unit: str, factor: float) -> None:
    """Microvolt, millivolt or volt: the same irradiance."""
    rows = [{"column": "g", "position": "global_1", "quantity": "ghi", "unit": unit}]
    config = station_config({"main": logger((), channels=rows)})
    ds = readings(config)
    out, _ = calibrated(config, ds.assign(global_1_mean=ds["global_1_mean"] * factor))
    assert_allclose(out["global_1"], irradiances(1440)["global_1"], rtol=0, atol=1e-9)


SET_2 = {"a": 1.0295e-3, "b": 2.391e-4, "c": 1.568e-7}

EQUATIONS: dict[str, dict[str, float]] = {
    "simple": {},
    "albrecht_cox": {"k": 3.5},
    "philipona": {"k1": 0.05, "k2": 1.0, "k3": 3.5},
}


def sky_station(
    equation: str, unit: str = "K", bridge: dict[str, float] | None = None, **constants: float
) -> StationConfig:
    """A pyrgeometer with body and dome sensors."""
    longwave = {"equation": equation} | EQUATIONS[equation] | constants
    sensitivity = {"as_left": 3.8, "unit": "uV W-1 m2"}
    sky = instrument(
        "sky_1", certificate("sky_1", longwave=longwave, sensitivity=sensitivity), thermistor=SET_2
    )
    sensor = {"position": "sky_1", "unit": unit, "bridge": bridge}
    rows = [
        {"column": "u", "position": "sky_1", "quantity": "lwd", "unit": "uV"},
        {"column": "tb", "sensor": "body_temperature"} | sensor,
        {"column": "td", "sensor": "dome_temperature"} | sensor,
    ]
    return station(sky, loggers={"main": logger((), channels=rows)})


def sky_readings(config: StationConfig, signal: Any, body: Any, dome: Any) -> xr.Dataset:
    """Signal in microvolt, temperatures in the unit logged."""
    size = np.size(signal)
    ds = readings(config, minutes=size)
    dim = "reading_main"
    return ds.assign(
        sky_1_mean=(dim, np.broadcast_to(signal, size).astype(float)),
        sky_1_body_temperature=(dim, np.broadcast_to(body, size).astype(float)),
        sky_1_dome_temperature=(dim, np.broadcast_to(dome, size).astype(float)),
    )


@pytest.mark.parametrize(
    ("equation", "expected"),
    [("simple", 298.813), ("albrecht_cox", 308.285), ("philipona", 302.037)],
)
def test_pyrgeometer_worked_numbers(equation: str, expected: float) -> None:
    """U -350 uV, C 3.8, body 288.15 K, dome 287.65 K, worked by hand from the published forms.

    Albrecht & Cox 1977; Philipona et al. 1995 (form from memory). Half the last digit.
    """
    config = sky_station(equation)
    out, _ = calibrated(config, sky_readings(config, [-350.0], 288.15, 287.65))
    assert out["sky_1"].values[0] == pytest.approx(expected, abs=0.0005)


def test_factor_of_the_body_s_emission() -> None:
    """The worked number with k2 = 0.98: 302.037 less 2 % of 390.919."""
    config = sky_station("philipona", k2=0.98)
    out, _ = calibrated(config, sky_readings(config, [-350.0], 288.15, 287.65))
    assert out["sky_1"].values[0] == pytest.approx(294.2186, abs=0.001)


@pytest.mark.parametrize("equation", EQUATIONS)
def test_pyrgeometer_round_trip(equation: str) -> None:
    """Irradiance to voltage by the inverse, and back through the stage."""
    config = sky_station(equation)
    constants = EQUATIONS[equation]
    coefficients = PyrgeometerCoefficients(
        constants.get("k1", 0.0),
        constants.get("k2", 1.0),
        constants.get("k", constants.get("k3", 0.0)),
    )
    truth = np.linspace(150.0, 480.0, 60)
    body, dome = np.linspace(240.0, 310.0, 60), np.linspace(239.0, 309.5, 60)
    signal = pyrgeometer_voltage(equation, truth, 3.8, body, dome, coefficients)
    out, _ = calibrated(config, sky_readings(config, signal, body, dome))
    assert_allclose(out["sky_1"], truth, rtol=0, atol=1e-9)


@pytest.mark.parametrize(("celsius", "ohm"), [(0.0, 29490.0), (50.0, 3893.0)])
def test_thermistor_table(celsius: float, ohm: float) -> None:
    """A table of a radiometer's thermistor (tests/published/thermistor_tables.csv, set 2).

    The coefficients fit that table to 0.02 K, where two sets differ by 2 K.
    """
    config = sky_station("simple", unit="ohm")
    out, _ = calibrated(config, sky_readings(config, [0.0], ohm, ohm))
    found = out["sky_1_body_temperature_kelvin"].values[0]
    assert found == pytest.approx(celsius + 273.15, abs=0.02)


def test_thermistor_in_a_half_bridge() -> None:
    """Logged as a ratio of voltages across a resistor of 10 kohm: R = 10 k x / (1 - x)."""
    config = sky_station("albrecht_cox", unit="ohm", bridge={"resistor": 10000.0})
    ohm = resistance_from_temperature([288.15, 287.65], SteinhartHart(**SET_2))
    ratio = ohm / (ohm + 10000.0)
    out, _ = calibrated(config, sky_readings(config, [-350.0], ratio[0], ratio[1]))
    assert out["sky_1"].values[0] == pytest.approx(308.285, abs=0.0005)


def test_celsius_is_not_kelvin() -> None:
    """15 degC is 288.15 K: the worked number again."""
    config = sky_station("simple", unit="degC")
    out, _ = calibrated(config, sky_readings(config, [-350.0], 15.0, 14.5))
    assert out["sky_1"].values[0] == pytest.approx(298.813, abs=0.0005)


def test_body_sensor_missing_or_over_range() -> None:
    """Longwave is not computed; shortwave is not concerned."""
    config = station_config()
    ds = readings(config)
    ds["sky_1_body_temperature"].values[:2] = [np.nan, np.inf]
    out, resolved = calibrated(config, ds)
    assert_array_equal(np.flatnonzero(np.isnan(out["sky_1"].values)), [0, 1])
    minutes = time_correct(out, resolved)
    assert_array_equal(np.isnan(minutes["lwd_uncertainty"].values), np.isnan(minutes["lwd"].values))
    assert np.isfinite(out["global_1"].values).all()


# --- certificates --------------------------------------------------------------------------

OLD, NEW = parse_utc("2030-06-01"), parse_utc("2031-06-01")


def recalibrated(
    as_left: float = 8.8, as_found: float | None = 8.4, **changes: Any
) -> StationConfig:
    """The global with a second certificate a year after the first (8.0)."""
    sensitivity = {"as_left": as_left, "as_found": as_found, "unit": "uV W-1 m2"}
    later = certificate("global_1", certificate="later", date="2031-06-01", sensitivity=sensitivity)
    return station(instrument("global_1", certificate("global_1"), later, **changes))


def sensitivity_used(config: StationConfig, start: int, policy: str = "interpolated") -> np.ndarray:
    """Sensitivity behind the global of a day."""
    settings = Processing.model_validate({"calibrate": {"policy": policy}})
    out, _ = calibrated(config, start=start, processing=settings)
    return irradiances(1440)["global_1"] * 8.0 / out["global_1"].values


def test_sensitivity_is_interpolated_in_time() -> None:
    """From 8.0 to the 8.4 found a year later, reading by reading, by true time."""
    got = sensitivity_used(recalibrated(), MARCH)
    now = MARCH + 60.0 * np.arange(1440)
    assert_allclose(got, 8.0 + 0.4 * (now - OLD) / (NEW - OLD), rtol=1e-12)


def test_after_the_last_certificate_its_as_left_value_holds() -> None:
    """What was found at the end of the year was adjusted to 8.8."""
    assert_allclose(sensitivity_used(recalibrated(), NEW + DAY), 8.8, rtol=1e-12)


def test_latest_before_and_break_hold_the_first() -> None:
    """By policy, or because a repair lies between: 8.0 until the new certificate's date."""
    assert_allclose(sensitivity_used(recalibrated(), MARCH, "latest_before"), 8.0, rtol=1e-12)
    repaired = recalibrated(breaks=[{"date": "2031-01-01", "reason": "new detector"}])
    assert_allclose(sensitivity_used(repaired, MARCH), 8.0, rtol=1e-12)


def test_exchange_in_the_middle_of_the_day() -> None:
    """Each reading by the instrument that stood there when it began; none in the gap."""
    change, back = MARCH + 36000, MARCH + 36600
    spare = instrument(
        "global_1",
        certificate("global_1", sensitivity={"as_left": 4.0, "unit": "uV W-1 m2"}),
        serial_number="NR-spare",
    )
    entries = [
        {"id": "off", "type": "removal", "time": change, "deployment": "dep-global_1", "role": "t"},
        deployment("global_1", id="again", instrument="NR-spare", **{"from": back}),
    ]
    out, _ = calibrated(station(spare, entries=entries))
    ratio = out["global_1"].values / irradiances(1440)["global_1"]
    minute = np.arange(1440)
    assert_allclose(ratio[minute < 600], 1.0, rtol=1e-12)
    assert np.isnan(ratio[600:610]).all()
    assert_allclose(ratio[minute >= 610], 2.0, rtol=1e-12)


@pytest.mark.parametrize("date", ["2031-03-16", "2031-04-01"])
def test_no_calibration(date: str) -> None:
    """Voltages, no irradiance, and the reason; from its date on the certificate applies."""
    config = station(instrument("global_1", certificate("global_1", date=date)))
    start = MARCH - DAY
    ds = readings(config, start=start, minutes=2880)
    out, resolved = calibrated(config, ds, start=start, days=2)
    assert np.isnan(out["global_1"].values[:1440]).all()
    assert np.isfinite(out["global_1"].values[1440:]).all() == (parse_utc(date) <= MARCH)
    assert np.isfinite(out["global_1_mean"].values).all()
    minutes = time_correct(out, resolved)
    word = minutes["ghi_conditions"].values & CONDITIONS["no_calibration"].mask
    assert_array_equal(word != 0, np.isnan(minutes["ghi"].values))


def test_no_deployment() -> None:
    """The position stood empty: no irradiance, no uncertainty, and the reason."""
    off = {"id": "o", "type": "removal", "time": MARCH, "deployment": "dep-sky_1", "role": "t"}
    out, resolved = calibrated(station_config(entries=[off]))
    assert np.isnan(out["sky_1"].values).all()
    minutes = time_correct(out, resolved)
    assert np.isnan(minutes["lwd_uncertainty"].values).all()
    word = minutes["lwd_conditions"].values
    assert np.all(word & CONDITIONS["no_deployment"].mask)


# --- temperature response, over-range, air --------------------------------------------------


def warm_global(celsius: Any) -> tuple[xr.Dataset, np.ndarray]:
    """The global with a body sensor and a temperature response."""
    mine = instrument("global_1", certificate("global_1", temperature_response=RAMP))
    rows = [
        {"column": "g", "position": "global_1", "quantity": "ghi", "unit": "mV"},
        {"column": "t", "position": "global_1", "sensor": "body_temperature", "unit": "degC"},
    ]
    config = station(mine, loggers={"main": logger((), channels=rows)})
    size = len(celsius)
    ds = readings(config, minutes=size)
    ds["global_1_body_temperature"].values[:] = celsius
    return calibrated(config, ds)[0], irradiances(size)["global_1"]


def test_temperature_response_divides_the_sensitivity() -> None:
    """10 degC: the sensitivity is 0.5 % lower; 40 degC: 2 % higher; by hand."""
    out, plain = warm_global([10.0, 20.0, 40.0])
    assert_allclose(out["global_1"], plain / [0.995, 1.0, 1.02], rtol=1e-12)
    assert not out["global_1_conditions"].values.any()


def test_temperature_outside_the_certificate() -> None:
    """Applied at the edge of the table, and marked."""
    out, plain = warm_global([-10.0, 50.0, 39.0])
    assert_allclose(out["global_1"].values[:2], plain[:2] / [0.99, 1.02], rtol=1e-12)
    assert has(out, "outside_certificate_range").tolist() == [True, True, False]


def test_temperature_missing() -> None:
    """The correction is not applied, and that is marked; the value stands."""
    out, plain = warm_global([np.nan, np.inf, 20.0])
    assert_allclose(out["global_1"], plain, rtol=1e-12)
    assert has(out, "correction_not_applied").tolist() == [True, True, False]


def test_no_temperature_sensor_at_all() -> None:
    """As if it were missing all the time."""
    mine = instrument("global_1", certificate("global_1", temperature_response=RAMP))
    out, _ = calibrated(station(mine))
    assert has(out, "correction_not_applied").all()
    assert "global_1_body_temperature_kelvin" not in out


def test_over_range_is_missing_and_marked() -> None:
    """Infinity never becomes an irradiance; a missing reading is not over-range."""
    config = station_config()
    ds = readings(config)
    ds["global_1_mean"].values[:3] = [np.inf, -np.inf, np.nan]
    ds["global_1_max"].values[5] = np.inf
    out, _ = calibrated(config, ds)
    assert out["global_1_over_range"].values[:4].tolist() == [True, True, False, False]
    assert np.isnan(out["global_1"].values[:3]).all()
    assert np.isnan(out["global_1_max"].values[5])
    assert not np.isinf(out["global_1_fingerprint"].values).any()
    assert not out["diffuse_1_over_range"].values.any()


@pytest.mark.parametrize(
    ("quantity", "unit", "logged", "archived"),
    [
        ("air_temperature", "degC", -40.0, 233.15),
        ("air_temperature", "K", 250.0, 250.0),
        ("relative_humidity", "%", 55.0, 0.55),
        ("air_pressure", "hPa", 780.5, 78050.0),
        ("air_pressure", "kPa", 78.05, 78050.0),
        ("wind_speed", "m s-1", 3.5, 3.5),
    ],
)
def test_air_data_in_archive_units(
    quantity: str, unit: str, logged: float, archived: float
) -> None:
    """The archive holds SI units; a deviation of a temperature is not shifted."""
    rows = [
        {"column": s, "quantity": quantity, "unit": unit, "statistic": s} for s in ("mean", "std")
    ]
    config = station_config({"main": logger(("global_1",))}).station.loggers["main"].channels
    every = [c.model_dump(exclude_defaults=True) for c in config] + rows
    config = station_config({"main": logger((), channels=every)})
    ds = readings(config, minutes=3)
    for name in (quantity, f"{quantity}_std"):
        ds[name].values[:] = [logged, np.nan, np.inf]
    out, _ = calibrated(config, ds)
    assert out[f"{quantity}_si"].values[0] == pytest.approx(archived, rel=1e-15)
    assert np.isnan(out[f"{quantity}_si"].values[1:]).all()
    factor = AIR_CONVERSIONS[quantity, unit][0]
    assert out[f"{quantity}_std_si"].values[0] == pytest.approx(logged * factor, rel=1e-15)


def test_what_was_logged_goes_along() -> None:
    """Times, status and mean signals are untouched; extremes take their calibrated values."""
    config = station_config()
    resolved = period(config)
    ds = timed(config, resolved, readings(config))
    out = calibrate(ds, resolved)
    replaced = {f"{p}_{s}" for p in QUANTITY for s in ("min", "max", "std")}
    kept = [name for name in ds.data_vars if name not in replaced]
    xr.testing.assert_identical(out[kept], ds[kept])
    assert set(QUANTITY) <= set(out.data_vars)
