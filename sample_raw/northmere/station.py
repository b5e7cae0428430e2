"""One invented station, any period, any interval: weather, instruments, loggers, files, truth."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np

from faults.readings import Statistics
from northmere import accidents
from northmere.draws import Draws, draw
from northmere.instruments import dome_temperature, thermistor_resistance, voltages
from northmere.light import Scene, make_scene
from northmere.logger import Intervals, cut, statistics
from northmere.noise import Floats, stream
from northmere.shapes import Column, Injection, Logger, Scenario
from northmere.sky import Weather, make_weather
from northmere.tables import Table, day_files, packed

DAY = 86400
MARGIN = 1800.0
"""Samples before and after the period, for clocks that are out and delays. [s]"""
STILL = (((0.0, 0.0),),)
"""A clock without error."""


@dataclass(frozen=True)
class Made:
    """
    What the generator made.

    Parameters
    ----------
    scenario : Scenario
        The station.
    interval : int
        Averaging interval. [s]
    seed : int
        As asked for.
    tables : mapping
        Logger name → `Table`, power gaps already left out.
    truth : mapping
        ``time`` (start of each interval, UTC seconds), ``ghi dhi dni lwd`` at the place of each
        instrument, ``mast_ghi mast_dhi mast_dni`` at one place [W m-2],
        ``solar_zenith_angle`` and ``solar_azimuth_angle`` (apparent, mean) [degree],
        ``air_temperature`` [K]; one value per true interval.
    faults : tuple of Injection
        Those that touch the period.
    draws : Draws
        True imperfections by serial number.
    """

    scenario: Scenario
    interval: int
    seed: int
    tables: Mapping[str, Table]
    truth: Mapping[str, Floats]
    faults: tuple[Injection, ...]
    draws: Draws

    def files(self) -> dict[str, list[str]]:
        """
        Lines of every file as delivered.

        Returns
        -------
        files : dict of list of str
            Path below the raw folder, without ``.csv.gz`` → lines.
        """
        out: dict[str, list[str]] = {}
        for table in self.tables.values():
            plain = day_files(table, self.interval < 60)
            spoilt = accidents.disturbed_files(
                self.scenario, table.logger, plain, self.faults, self.seed
            )
            out |= {f"{self.scenario.folder}/{name}": lines for name, lines in spoilt.items()}
        return out

    def write(self, folder: Path, truth: bool = False) -> dict[str, str]:
        """
        Write the raw files.

        Parameters
        ----------
        folder : Path
            Raw folder; made where missing.
        truth : bool
            Whether to write the truth beside the raw data, for tests.

        Returns
        -------
        digests : dict of str
            Path below ``folder`` → SHA-256 of the raw file.
        """
        digests: dict[str, str] = {}
        for name, lines in self.files().items():
            data, path = packed(lines), f"{name}.csv.gz"
            (folder / path).parent.mkdir(parents=True, exist_ok=True)
            (folder / path).write_bytes(data)
            digests[path] = hashlib.sha256(data).hexdigest()
        if truth:
            self.write_truth(folder / "truth")
        return digests

    def write_truth(self, folder: Path) -> None:
        """
        Write the true irradiances, the injected faults and the draws.

        Parameters
        ----------
        folder : Path
            Made where missing; gets ``<id>_truth.npz`` and ``<id>_truth.json``.
        """
        folder.mkdir(parents=True, exist_ok=True)
        np.savez_compressed(folder / f"{self.scenario.id}_truth.npz", **self.truth)  # type: ignore[arg-type]
        told = {
            "station": self.scenario.id,
            "seed": self.seed,
            "interval": self.interval,
            "faults": [asdict(fault) | {"settings": dict(fault.settings)} for fault in self.faults],
            "draws": {serial: dict(values) for serial, values in self.draws.units.items()},
        }
        text = json.dumps(told, indent=1, sort_keys=True)
        (folder / f"{self.scenario.id}_truth.json").write_text(text + "\n", encoding="utf-8")


def sample_step(interval: int) -> float:
    """
    Spacing of the simulated samples.

    Parameters
    ----------
    interval : int
        Averaging interval. [s]

    Returns
    -------
    step : float
        1 s below 30 s, else 5 s, which is still shorter than the sensors' response. [s]
    """
    return 1.0 if interval < 30 or interval % 5 else 5.0


def with_true_clocks(scenario: Scenario) -> Scenario:
    """
    The same station with clocks that are never wrong, whatever the field log says.

    Parameters
    ----------
    scenario : Scenario
        Station with the clocks that its field log documents.

    Returns
    -------
    scenario : Scenario
        Without clock errors.
    """
    loggers = tuple(replace(logger, clock=STILL) for logger in scenario.loggers)
    return replace(scenario, loggers=loggers)


def make_station(
    scenario: Scenario,
    start: str,
    days: int,
    seed: int,
    interval: int = 60,
    faults: bool | Sequence[Injection] = True,
) -> Made:
    """
    Make the readings of one station.

    Parameters
    ----------
    scenario : Scenario
        Which station.
    start : str
        First day in the loggers' own dates, ISO.
    days : int
        Number of days.
    seed : int
        Weather, units and noise; the same seed with and without faults gives the same weather.
    interval : int
        Averaging interval, 1 to 3600. [s]
    faults : bool or sequence of Injection
        True: those of the scenario that fall into the period; False: none; or the caller's own.

    Returns
    -------
    made : Made
        Tables, truth, faults, draws.

    Raises
    ------
    ValueError
        If interval, days or a fault's kind are out of range.
    """
    if not 1 <= interval <= 3600 or DAY % interval or days < 1:
        raise ValueError(
            "interval must divide a day and lie within 1 to 3600 s, days be at least 1"
            f" (got {interval!r}, {days!r})"
        )
    offset, step = scenario.loggers[0].utc_offset, sample_step(interval)
    begin = (date.fromisoformat(start) - date(1970, 1, 1)).days * DAY - offset
    end = begin + days * DAY
    wanted = scenario.injections if faults is True else tuple(faults or ())
    accidents.check_kinds(wanted)
    present = tuple(f for f in wanted if f.start < end and f.end > begin)

    time = np.arange(begin - MARGIN + step / 2, end + MARGIN, step)
    weather, draws = make_weather(scenario, time, step, seed), draw(scenario, seed)
    scene = make_scene(scenario, weather, draws, step, seed)
    light = accidents.disturbed_light(scene.received, present)
    volts = voltages(scenario, scene, light, draws, step, seed)
    context = _Context(scenario, weather, scene, draws, volts, present, seed)
    tables = {
        logger.name: _table(context, logger, (begin, end), (step, interval))
        for logger in scenario.loggers
    }
    true_cut = cut(time, step, interval, STILL)
    inside = (true_cut.clock_start >= begin) & (true_cut.clock_start < end)
    truth = _truth(scene, weather, true_cut.rows(inside))
    return Made(scenario, interval, seed, tables, truth, present, draws)


@dataclass(frozen=True)
class _Context:
    scenario: Scenario
    weather: Weather
    scene: Scene
    draws: Draws
    volts: Mapping[str, Floats]
    faults: tuple[Injection, ...]
    seed: int


def _means(samples: Floats, intervals: Intervals) -> Floats:
    return statistics(samples, intervals).mean


def _truth(scene: Scene, weather: Weather, intervals: Intervals) -> dict[str, Floats]:
    truth = {name: _means(values, intervals) for name, values in scene.truth.items()}
    middle = intervals.first + intervals.count // 2
    return {
        "time": intervals.clock_start,
        **truth,
        "solar_zenith_angle": _means(weather.sun.zenith, intervals),
        "solar_azimuth_angle": weather.sun.azimuth[middle],
        "air_temperature": _means(weather.air_temperature, intervals) + 273.15,
    }


def _table(
    context: _Context,
    logger: Logger,
    period: tuple[int, int],
    timing: tuple[float, int],
) -> Table:
    step, interval = timing
    intervals = cut(context.weather.time, step, interval, logger.clock)
    label = intervals.clock_start + logger.utc_offset + (interval if logger.label == "end" else 0)
    first = period[0] + logger.utc_offset + (logger.layout.stamp == "year_day_hhmm")
    wanted = (label >= first) & (label < first + period[1] - period[0])
    wanted &= accidents.written_rows(logger, intervals.true_start, context.faults)
    rows, label = intervals.rows(wanted), label[wanted]
    signals: dict[str, Statistics] = {}
    columns = {c.name: _column(context, c, rows, signals, logger.name) for c in logger.columns}
    return Table(logger, label, rows.true_start, columns)


def _column(
    context: _Context,
    column: Column,
    rows: Intervals,
    signals: dict[str, Statistics],
    logger: str,
) -> Floats:
    source, _, part = column.source.partition(".")
    if source == "air":
        return _air(context, part, rows, column)
    if source == "status":
        return _status(context, part, rows, logger)
    if part:
        return _thermal(context, source, part, rows, column)
    if source not in signals:
        plain = statistics(context.volts[source], rows)
        signals[source] = accidents.disturbed_signal(source, plain, rows.true_start, context.faults)
    scale = {"mV": 1e-3, "uV": 1.0}[column.unit]
    return np.asarray(getattr(signals[source], column.statistic) * scale)


def _air(context: _Context, what: str, rows: Intervals, column: Column) -> Floats:
    weather = context.weather
    if what == "temperature":
        return _means(weather.air_temperature, rows)
    if what == "pressure":
        return _means(weather.pressure, rows)
    dew, air = weather.dew_point, weather.air_temperature
    share = np.exp(17.62 * dew / (243.12 + dew) - 17.62 * air / (243.12 + air))
    return np.clip(_means(100.0 * share, rows), 0.0, 100.0)


def _thermal(
    context: _Context, position: str, part: str, rows: Intervals, column: Column
) -> Floats:
    kelvin = context.scene.body if part == "body" else dome_temperature(context.scene)
    mean = _means(kelvin, rows)
    for placement in context.scenario.placements:
        if placement.position == position:
            here = (rows.true_start >= placement.start) & (rows.true_start < placement.end)
            mean = mean + here * context.draws.of(placement.serial, f"{part}_error")
    return thermistor_resistance(mean) if column.unit == "ohm" else mean - 273.15


def _status(context: _Context, what: str, rows: Intervals, logger: str) -> Floats:
    values = _status_series(context, what, rows, logger)
    return accidents.forced_status(what, values, rows.true_start, context.faults)


def _status_series(context: _Context, what: str, rows: Intervals, logger: str) -> Floats:
    rng = stream(context.scenario.id, context.seed, "status", logger, what)
    noise = rng.standard_normal(rows.first.size)
    middle = rows.first + rows.count // 2
    zenith = context.weather.sun.zenith[middle]
    if what == "tracker_mode":
        words = context.scenario.tracker_words
        before_sunrise = (zenith < 92.0) & (zenith > 91.0) & (np.gradient(zenith) < 0)
        mode = np.where(zenith <= 91.0, words["tracking"], words["off"])
        return np.where(before_sunrise, words["homing"], mode).astype(float)
    if what == "ventilator_speed":
        return np.asarray(2960.0 + 12.0 * noise)
    if what == "supply_voltage":
        return np.asarray(12.55 + 0.9 * np.clip((93.0 - zenith) / 20.0, 0.0, 1.0) + 0.02 * noise)
    raise ValueError(f"unknown status {what!r}")
