"""The sample generator: seeded, physical, and told the truth by its own configuration."""

from __future__ import annotations

import gzip
import hashlib
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest

REPOSITORY = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(REPOSITORY / "sample_raw"), str(REPOSITORY / "tests" / "benchmarks")]

import bench_generator as bench  # noqa: E402

import make_sample  # noqa: E402
from faults.clocks import clock_error  # noqa: E402
from northmere.draws import draw  # noqa: E402
from northmere.instruments import responded, thermistor_resistance, true_sensitivity  # noqa: E402
from northmere.scenario import SCENARIOS  # noqa: E402
from northmere.shapes import ALWAYS, Injection, Scenario, utc  # noqa: E402
from northmere.sky import sun_position  # noqa: E402
from northmere.station import Made, make_station, with_true_clocks  # noqa: E402
from northmere.tables import packed  # noqa: E402
from sunledger.config.loading import load_station  # noqa: E402
from sunledger.config.models.fieldlog import ClockCheck, Deployment, LevelCheck  # noqa: E402

STATIONS = list(SCENARIOS.values())
SAMPLE = REPOSITORY / "sample_raw"
every_station = pytest.mark.parametrize("scenario", STATIONS, ids=lambda s: s.id)


@pytest.fixture(scope="module")
def clean() -> dict[str, Made]:
    """Three clean days of each station with true clocks."""
    return {
        s.id: make_station(with_true_clocks(s), "2031-04-12", 3, 11, faults=False) for s in STATIONS
    }


@every_station
def test_same_seed_same_bytes(scenario: Scenario) -> None:
    """Every file, faults of delivery included; another seed differs."""
    first, second, other = (make_station(scenario, "2031-04-13", 1, s).files() for s in (5, 5, 6))
    assert {n: packed(t) for n, t in first.items()} == {n: packed(t) for n, t in second.items()}
    assert first.keys() == other.keys()
    assert first != other


def test_faults_leave_weather_and_units_alone() -> None:
    """The truth of a faulty and of a clean station is the same, the readings are not."""
    scenario = SCENARIOS["osr"]
    fault = Injection("level_out", 0.0, 4e9, settings={"size": 1.0, "toward": 90.0})
    clean = make_station(scenario, "2031-04-12", 1, 4, faults=False)
    tilted = make_station(scenario, "2031-04-12", 1, 4, faults=[fault])
    np.testing.assert_array_equal(clean.truth["ghi"], tilted.truth["ghi"])
    assert clean.draws == tilted.draws
    assert tilted.faults == (fault,)
    main = [made.tables["main"].columns["glob_mean"] for made in (clean, tilted)]
    assert np.abs(main[0] - main[1]).max() > 0.05


def test_unknown_fault_and_interval_are_refused() -> None:
    """The message names what is allowed."""
    with pytest.raises(ValueError, match="unknown fault gremlin; known: tracker_stopped"):
        make_station(STATIONS[0], "2031-04-12", 1, 1, faults=[Injection("gremlin", 0, 1)])
    with pytest.raises(ValueError, match=r"interval must divide a day.*got 700"):
        make_station(STATIONS[0], "2031-04-12", 1, 1, interval=700)


@every_station
@pytest.mark.parametrize(
    ("interval", "rows"), [(1, 86400), (10, 8640), (60, 1440), (600, 144), (3600, 24)]
)
def test_any_interval_from_a_second_to_ten_minutes(
    scenario: Scenario, interval: int, rows: int
) -> None:
    """A day holds as many rows as it has intervals, each label once and in order."""
    made = make_station(with_true_clocks(scenario), "2031-04-12", 1, 2, interval, faults=False)
    for table in made.tables.values():
        assert table.label.size == rows
        assert (np.diff(table.label) == interval).all()


@every_station
def test_natural_closure_failures_are_as_on_the_real_month(scenario: Scenario) -> None:
    """
    Between 0.5 and 1.5 % of daylight minutes, mostly not in rows of three.

    On one-minute data of June 2016 from Payerne (BSRN station 21, L. Vuilleumier, PANGAEA) the
    closure after Long & Dutton fails in 1.00 % of daylight minutes without 6 and 10 June, in
    0.20 % in rows of at least three.
    """
    still = with_true_clocks(scenario)
    rates = [
        bench.closure_rates(make_station(still, scenario.start, 30, seed, faults=False))
        for seed in range(1, 6)
    ]
    mean = np.mean(rates, axis=0)
    assert 0.5 <= mean[0] <= 1.5
    assert mean[2] < 0.4 * mean[0]


@every_station
def test_measured_agrees_with_the_truth(scenario: Scenario, clean: dict[str, Made]) -> None:
    """Within what ISO 9060 classes A and B leave, by certificate alone, nights included."""
    within = {"ghi": 25.0, "dhi": 10.0, "dni": 25.0, "lwd": 10.0}
    for name, (bias, spread) in bench.agreement(clean[scenario.id]).items():
        assert abs(bias) < 0.5 * within[name], name
        assert spread < within[name], name
        assert spread > 0.5, name


@every_station
def test_the_mast_closes_exactly(scenario: Scenario, clean: dict[str, Made]) -> None:
    """Global is diffuse plus direct on the horizontal, to the averaging of the sun's height."""
    truth = clean[scenario.id].truth
    flat = np.maximum(np.cos(np.radians(truth["solar_zenith_angle"])), 0.0)
    total = truth["mast_dhi"] + truth["mast_dni"] * flat
    np.testing.assert_allclose(truth["mast_ghi"], total, atol=0.8)
    assert (truth["ghi"] >= 0).all()
    assert (truth["dni"] < 1361.0 * 1.035).all()


@every_station
def test_sun_between_knots_is_the_sun(scenario: Scenario) -> None:
    """Against pvlib's full algorithm at odd times; refraction aside within 0.0001 degree."""
    time = np.sort(np.random.default_rng(1).uniform(1.934e9, 1.934e9 + 5e5, 200))
    sun = sun_position(scenario, time)
    stamps = pd.to_datetime(time, unit="s", utc=True)
    full = pvlib.solarposition.get_solarposition(
        stamps, scenario.latitude, scenario.longitude, scenario.altitude
    )
    down = full["elevation"].to_numpy() < -3.0
    high = full["elevation"].to_numpy() > 10.0
    np.testing.assert_allclose(sun.zenith[down], full["zenith"].to_numpy()[down], atol=1e-4)
    np.testing.assert_allclose(sun.azimuth[high], full["azimuth"].to_numpy()[high], atol=1e-4)
    np.testing.assert_allclose(
        sun.zenith[high], full["apparent_zenith"].to_numpy()[high], atol=0.02
    )


def test_thermistor_against_a_published_table() -> None:
    """Resistances of a 10 kOhm probe: R(25 degC) = 10000, R(0) = 32650.9, R(-30) = 176804.8 ohm."""
    celsius = np.array([25.0, 0.0, -30.0])
    ohms = thermistor_resistance(celsius + 273.15)
    # 0.002 K, the agreement of coefficients and table, is 0.013 % at most.
    np.testing.assert_allclose(ohms, [10000.0, 32650.9, 176804.8], rtol=1.3e-4)


@pytest.mark.parametrize("step", [1.0, 5.0])
def test_response_delays_by_its_time_constant(step: float) -> None:
    """A ramp comes out late by a third of the 95 % time, whatever the samples' spacing."""
    ramp = np.arange(0.0, 600.0, step)
    seen = responded(ramp, 6.0, step)
    # Values constant within a sample lag the ramp by themselves half a step on average at its
    # middle, on both sides alike; what is left is the time constant.
    assert (ramp - seen)[-1] == pytest.approx(2.0, abs=1e-9)


@every_station
def test_true_sensitivities_lie_within_the_certificates(scenario: Scenario) -> None:
    """Over many seeds: inside the stated uncertainty, on both sides, not all the same."""
    time = np.array([1.933e9])
    for unit in scenario.instruments:
        stated = unit.certificates[-1]
        found = [true_sensitivity(unit, draw(scenario, seed), time)[0] for seed in range(40)]
        error = np.array(found) / stated.sensitivity - 1.0
        drift = abs(unit.certificates[0].sensitivity / stated.sensitivity - 1.0)
        assert np.abs(error).max() <= stated.uncertainty / 100.0 + drift
        assert error.min() < 0.0 < error.max()


def test_midnight_is_2400_of_the_day_that_ends() -> None:
    """Karru Pan writes year, day and hhmm of the interval's start, from 1 to 2400."""
    lines = make_station(SCENARIOS["kpn"], "2031-12-31", 2, 1, faults=False).files()
    first = lines["karru_pan/field_20311231"]
    assert first[4].startswith("2031;365;1;")
    assert first[-1].startswith("2031;365;2400;")
    assert lines["karru_pan/field_20320101"][4].startswith("2032;1;1;")
    assert len(first) == 4 + 1440


def test_label_marks_the_end_in_the_zone_of_the_logger() -> None:
    """Ossel Ridge's 12:00 is the minute from 10:59 to 11:00 UTC."""
    made = make_station(with_true_clocks(SCENARIOS["osr"]), "2031-04-12", 1, 1, faults=False)
    lines = made.files()["ossel_ridge/main_20310412"]
    row = next(n for n, line in enumerate(lines) if line.startswith("2031-04-12 12:00:00,")) - 1
    noon = pd.Timestamp("2031-04-12 10:59", tz="UTC").timestamp()
    assert made.tables["main"].true_start[row] == noon


def test_setting_a_clock_back_repeats_a_label() -> None:
    """The interval in progress is lost; its label's minute is written again, cut short."""
    table = make_station(SCENARIOS["osr"], "2031-05-05", 1, 1, faults=False).tables["beam"]
    steps = np.diff(table.label)
    assert (steps == 0).sum() == 1
    assert (steps[steps != 0] == 60).all()
    again = np.flatnonzero(steps == 0)[0]
    assert table.label[again] % 86400 == 11 * 3600 + 13 * 60


def test_power_gap_and_exchange_show_in_the_rows() -> None:
    """No rows in the gap; hardly a signal while no instrument is connected."""
    scenario = SCENARIOS["osr"]
    gap = make_station(scenario, "2031-03-29", 1, 3).tables["main"]
    assert gap.label.size == 1440 - 265
    made = make_station(with_true_clocks(scenario), "2031-05-12", 1, 3, faults=False)
    start = made.tables["main"].true_start
    between = (start > utc("2031-05-12 13:06")) & (start < utc("2031-05-12 13:49"))
    assert between.sum() == 42
    assert np.abs(made.tables["main"].columns["glob_mean"][between]).max() < 0.01


def test_over_range_and_missing_words() -> None:
    """Karru Pan's word for over range stands in quotes in the minutes of the fault."""
    lines = make_station(SCENARIOS["kpn"], "2031-04-15", 1, 3).files()["karru_pan/field_20310415"]
    assert sum('"OVR"' in line for line in lines) == 6


def test_truth_is_written_only_when_asked(tmp_path: Path) -> None:
    """The raw folder holds nothing but raw files; their digests stand beside it."""
    words = ["--station", "kpn", "--start", "2031-04-13", "--days", "1"]
    assert make_sample.main(["--out", str(tmp_path / "a"), *words]) == 0
    assert make_sample.main(["--out", str(tmp_path / "b"), *words, "--truth"]) == 0
    assert not (tmp_path / "a" / "truth").exists()
    assert (tmp_path / "b" / "truth" / "kpn_truth.json").exists()
    for line in (tmp_path / "a.sha256").read_text().splitlines():
        digest, name = line.split("  ")
        assert hashlib.sha256((tmp_path / name).read_bytes()).hexdigest() == digest


def test_impossible_options_exit_with_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One line on standard error."""
    words = ["--out", str(tmp_path), "--station", "osr", "--days", "1", "--interval", "7000"]
    assert make_sample.main(words) == 2
    assert "interval must divide a day" in capsys.readouterr().err


def test_committed_sample_is_whole() -> None:
    """Every file has its digest, every digest its file; all of it below 15 MB."""
    listed = dict(
        reversed(line.split("  ")) for line in (SAMPLE / "raw.sha256").read_text().splitlines()
    )
    files = {p.relative_to(SAMPLE).as_posix(): p for p in SAMPLE.rglob("*.csv.gz")}
    assert listed.keys() == files.keys()
    for name, path in files.items():
        assert hashlib.sha256(path.read_bytes()).hexdigest() == listed[name], name
    assert sum(p.stat().st_size for p in files.values()) < 15e6


def test_committed_sample_is_what_the_generator_makes() -> None:
    """
    Line by line, but for the last digit of a number.

    Another processor's sine may differ in its last bit and turn a rounding round.
    """
    scenario = SCENARIOS["kpn"]
    made = make_station(scenario, scenario.start, scenario.days, make_sample.SEED).files()
    for name in ("karru_pan/field_20310413", "karru_pan/field_20310427_again"):
        text = gzip.decompress((SAMPLE / "raw" / f"{name}.csv.gz").read_bytes()).decode(
            "utf-8", "surrogateescape"
        )
        for kept, fresh in zip(text.splitlines(), made[name], strict=True):
            if kept != fresh:
                pairs = list(zip(kept.split(";"), fresh.split(";"), strict=True))
                assert all(a == b or abs(float(a) - float(b)) < 0.11 for a, b in pairs)


@every_station
def test_configuration_tells_what_the_generator_used(scenario: Scenario) -> None:
    """Certificates, deployments, columns, clock checks and place agree with the scenario."""
    config = load_station(REPOSITORY / "configs" / "stations" / scenario.folder)
    station, inventory = config.station, config.inventory.by_serial()
    assert (station.latitude, station.longitude) == (scenario.latitude, scenario.longitude)
    assert station.site[0].horizon == scenario.horizon
    for unit in scenario.instruments:
        written = inventory[unit.serial]
        assert written.kind == unit.kind
        assert written.response_time == unit.response_time
        for ours, theirs in zip(unit.certificates, written.calibrations, strict=True):
            assert theirs.sensitivity.as_left == ours.sensitivity
            assert theirs.expanded_uncertainty == ours.uncertainty
            assert theirs.temperature_response == unit.temperature_response
            assert (theirs.date, theirs.certificate) == (ours.date, ours.number)
            if theirs.longwave is not None:
                assert theirs.longwave.k == unit.dome_factor
    log = config.fieldlog.in_force()
    placed = {(e.instrument, e.position): e.time for e in log if isinstance(e, Deployment)}
    assert placed.keys() == {(p.serial, p.position) for p in scenario.placements}
    for p in scenario.placements:
        assert p.start in (ALWAYS, placed[p.serial, p.position])


@every_station
def test_field_log_tells_the_true_clock_and_level(scenario: Scenario) -> None:
    """Each clock check found the error that the clock had; the lean found is the one injected."""
    config = load_station(REPOSITORY / "configs" / "stations" / scenario.folder)
    log = config.fieldlog.in_force()
    clocks = {logger.name: logger for logger in scenario.loggers}
    checks = [e for e in log if isinstance(e, ClockCheck)]
    assert len(checks) >= 3
    for check in checks:
        before, after = clock_error(
            np.array([check.time - 1e-3, check.time]), clocks[check.logger].clock
        )
        assert check.found == pytest.approx(before, abs=0.01)
        assert (check.found if check.left is None else check.left) == pytest.approx(after, abs=0.01)
    leans = {f.end: f.settings for f in scenario.injections if f.kind == "level_out"}
    found = {e.time: e.found for e in log if isinstance(e, LevelCheck) and e.found.size > 1.0}
    assert {t: (f.size, f.azimuth) for t, f in found.items()} == {
        t: (s["size"], s["toward"]) for t, s in leans.items()
    }


@every_station
def test_tables_have_the_columns_that_the_configuration_names(scenario: Scenario) -> None:
    """Every column in the file has its channel with the same unit, and the other way round."""
    config = load_station(REPOSITORY / "configs" / "stations" / scenario.folder)
    for logger in scenario.loggers:
        written = config.station.loggers[logger.name]
        assert (written.utc_offset, written.label) == (logger.utc_offset, logger.label)
        assert written.serial_number == logger.serial
        units = {c.name: c.unit for c in logger.columns if not c.source.startswith("status")}
        told = {c.column: c.unit for c in written.channels if c.kind != "status"}
        assert told == units
        states = {c.name for c in logger.columns if c.source.startswith("status")}
        assert states == {c.column for c in written.channels if c.kind == "status"}
