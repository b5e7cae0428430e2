"""Months in which every error of every instrument is drawn, turned into voltages and measured.

The true sensitivity is the certificate's times one plus a draw; so with all else that a budget
names. How an error enters is written here anew, from what happens in an instrument, not taken from
the package; only widths and laws are its budget's, for these are what is stated. `stated` draws
errors that are constant as long as the budget says; `shaped` uses responses inside the class limits
that follow sun, temperature, light and the course of a day, some of one sign only.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import NamedTuple

import numpy as np
import xarray as xr

import invented
from sunledger.config.coefficients import Coefficients
from sunledger.config.models.base import parse_utc
from sunledger.config.models.processing import Processing
from sunledger.config.resolve import Period
from sunledger.physics.sun import solar_position
from sunledger.physics.uncertainty_inputs import SCALE_UNCERTAINTY, Component
from sunledger.stages.budgets import components_of
from sunledger.stages.calibrate import calibrate
from sunledger.stages.time_correct import time_correct
from sunledger.stages.true_time import with_true_times

Array = np.ndarray
DAY = 86400
SUB = 6
"""Samples of the light in an interval."""
SIGMA = 5.670374419e-8
DOME_FACTOR = 3.5
RESPONSE = 5.0
CLOCK = 1.0
"""To what a clock on a time signal is known. [s]"""
STARTS = ("2031-03-01", "2031-06-01", "2031-09-01", "2031-12-01")
AGES = ("2030-06-01", "2028-09-01")
PERCENT_OF = {"global_1": 1.2, "diffuse_1": 1.2, "direct_1": 0.8, "sky_1": 3.0}
"""Expanded uncertainty of each certificate, k = 2. [percent]"""
FOUR = ("ghi", "dhi", "dni", "lwd")
POSITION = {q: p for p, q in invented.QUANTITY.items()}


@cache
def resolved(kind: int, days: int, interval: int) -> Period:
    """A station of class A, its diffuse shaded: season, age of certificates, soiled or not."""
    start, age = STARTS[kind % 4], AGES[kind // 4 % 2]
    every = tuple(invented.SENSITIVITY)
    dome = {"column": "td", "position": "sky_1", "sensor": "dome_temperature", "unit": "K"}
    logger = invented.logger(
        every, interval=interval, label="start", utc_offset="+00:00",
        clock={"discipline": "time_signal"}, channels=[*invented.channels(every), dome],
    )  # fmt: skip
    papers = {
        p: invented.certificate(p, date=age, expanded_uncertainty=PERCENT_OF[p]) for p in every
    }
    papers["sky_1"]["longwave"] = {"equation": "albrecht_cox", "k": DOME_FACTOR}
    shade = invented.deployment("diffuse_1", id="shaded", shade="disc", corrects="dep-diffuse_1",
                                reason="shade forgotten")  # fmt: skip
    first = parse_utc(start)
    dirt = [
        {"id": "cl", "type": "cleaning", "time": first + (days // 2) * DAY, "role": "keeper",
         "positions": list(every), "found": "dust", "soiled_since": first + (days // 4) * DAY}
    ] if kind % 3 == 0 else []  # fmt: skip
    units = [invented.instrument(p, papers[p], response_time=RESPONSE) for p in every]
    config = invented.station_config({"main": logger}, units, [shade, *dirt])
    settings = Processing.model_validate(
        {"aggregate": {"least_share_daily": 0.0, "composite_least_days": 1}}
    )
    return invented.period(config, first, days, settings)


@dataclass(frozen=True)
class Sky:
    """The truth of a month by interval, with what acts on the instruments."""

    period: Period
    interval: int
    time: Array
    zenith: Array
    azimuth: Array
    body: Array
    dome: Array
    fine: dict[str, Array]
    """Samples of each quantity, shape (interval, SUB)."""

    @property
    def truth(self) -> dict[str, Array]:
        """Means over the intervals."""
        return {q: v.mean(axis=1) for q, v in self.fine.items()}

    @property
    def net(self) -> Array:
        """Net longwave irradiance. [W m-2]"""
        return np.asarray(self.truth["lwd"] - SIGMA * self.body**4)


@lru_cache(maxsize=16)
def sun_of(span: tuple[int, int], site: tuple[float, ...], step: int) -> tuple[Array, Array]:
    """Zenith and azimuth at regular times."""
    sun = solar_position(np.arange(*span, step).astype(float), *site)
    return sun.zenith, sun.azimuth


def _clouds(kind: Array, size: int, rng: np.random.Generator) -> Array:
    """Share of the beam that comes through: clear, broken, overcast days."""
    turns = np.cumsum(rng.random(size) < 0.02) + rng.integers(2)
    broken = np.convolve(turns % 2, np.ones(3) / 3, "same")
    return np.choose(kind, [np.ones(size), broken, np.zeros(size)])


def sky_of(period: Period, interval: int, rng: np.random.Generator) -> Sky:
    """Weather of a month, sample by sample."""
    time = np.arange(period.start, period.end, interval)
    site, half = (period.latitude, period.longitude, period.altitude), interval // 2
    zenith, azimuth = sun_of((period.start + half, period.end + half), site, interval)
    edges = np.cos(np.radians(sun_of((period.start, period.end), site, interval)[0]))
    inside = (np.arange(SUB) + 0.5) / SUB
    later = np.append(edges[1:], edges[-1])
    mu = np.maximum(edges[:, None] + inside * (later - edges)[:, None], 0.0)
    per_day = DAY // interval
    kind = np.repeat(rng.integers(0, 3, time.size // per_day), per_day * SUB)
    share = _clouds(kind, time.size * SUB, rng).reshape(time.size, SUB)
    kind = kind.reshape(time.size, SUB)
    dni = share * 980.0 * np.exp(-0.12 / np.maximum(mu, 0.03)) * (mu > 0)
    dhi = (60.0 + np.choose(kind, [30.0, 120.0, 250.0]) + 60.0 * share * (kind == 1)) * mu**0.8
    warm = np.cos(2 * np.pi * (time / DAY - 0.6))
    body = 283.0 + np.repeat(rng.normal(0, 4, time.size // per_day), per_day) + 5.0 * warm
    lwd = 240.0 + np.choose(kind, [0.0, 40.0, 80.0]) + 8.0 * warm[:, None]
    dome = body - 0.3 + 0.8 * np.maximum(warm, 0.0)
    fine = {"ghi": dhi + dni * mu, "dhi": dhi, "dni": dni, "lwd": lwd}
    return Sky(period, interval, time, zenith, azimuth, body, dome, fine)


def unit_draw(law: str, size: int, rng: np.random.Generator) -> Array:
    """Draws of a law of width 1."""
    if law == "normal":
        return rng.normal(0.0, 0.5, size)
    if law == "triangular":
        return rng.triangular(-1.0, 0.0, 1.0, size)
    return rng.uniform(-1.0, 1.0, size)


def shape(name: str, sky: Sky, value: Array, rng: np.random.Generator) -> Array | None:
    """A course between -1 and 1 that a real response could have; None where constancy is real."""
    day = (sky.time % DAY) / DAY
    azimuth = np.radians(sky.azimuth - rng.uniform(0.0, 360.0))
    passed = (sky.time - sky.time[0]) / (sky.time[-1] - sky.time[0])
    courses = {
        "directional": np.clip((sky.zenith - 20) / 60, 0, 1) * (0.6 + 0.4 * np.cos(azimuth)),
        "temperature": np.clip((sky.body - 293.15) / 30.0, -1.0, 1.0),
        "non_linearity": np.clip((np.abs(value) - 500.0) / 500.0, -1.0, 1.0),
        "zero_offset_a": -np.ones(day.size) * np.sign(rng.uniform(-0.2, 1.0)),
        "zero_offset_b": np.clip(np.gradient(sky.body, sky.interval / 3600.0) / 5.0, -1, 1),
        "window": np.abs(np.clip(sky.truth["ghi"] / 1000.0, 0.0, 1.0)),
        "level": np.cos(azimuth),
        "shade_geometry": np.clip(sky.truth["dni"] / 900.0, 0.0, 1.0),
        "pointing": np.cos(2 * np.pi * (day - rng.uniform())),
        "maintenance": -day,
        "soiling": -passed,
    }
    return courses.get(name)


def course(
    part: Component, sky: Sky, value: Array, shaped: bool, rng: np.random.Generator
) -> Array:
    """One component's error over the month, in the unit of its width."""
    per_day = DAY // sky.interval
    if part.common == "day":
        size = np.repeat(unit_draw(part.law, sky.time.size // per_day, rng), per_day)
    else:
        size = np.full(sky.time.size, unit_draw(part.law, 1, rng)[0])
    curve = shape(part.name, sky, value, rng) if shaped else None
    if curve is not None and part.name in ("maintenance", "soiling", "window"):
        size = np.abs(size)
    return np.asarray(part.width * size * (1.0 if curve is None else curve))


def _soiled(sky: Sky, row: Coefficients) -> Array:
    """Bound of the loss that the record states for a position. [percent]"""
    rows = [r for r in sky.period.soilings if r[0] == row.position]
    return sum((b * ((sky.time >= a) & (sky.time < e)) for _, a, e, b in rows), 0.0 * sky.time)


def _years(sky: Sky, row: Coefficients) -> Array:
    """Since the certificate, at least one."""
    return np.maximum((sky.time - row.certified) / (365.25 * DAY), 1.0)


def _displaced(sky: Sky, quantity: str, late: float) -> Array:
    """Means over intervals that lie some seconds too early in the light."""
    fine = sky.fine[quantity].ravel()
    passed = np.concatenate(([0.0], np.cumsum(fine))) * sky.interval / SUB
    ticks = np.arange(fine.size + 1) * sky.interval / SUB
    ends = np.append(np.arange(sky.time.size), sky.time.size) * float(sky.interval)
    return np.diff(np.interp(ends - late, ticks, passed)) / sky.interval


def _timing(sky: Sky, quantity: str, clock: float, shaped: bool, rng: np.random.Generator) -> Array:
    """
    What lag and clock do: a displaced mean, or draws of the stated bound.

    Stated is a width for the displacement, part of the one clock and part of the own lag, times the
    course of the light, and an independent rest that the changing light leaves.
    """
    fine, truth = sky.fine[quantity], sky.truth[quantity]
    lag = RESPONSE / 3.0
    if shaped:
        return _displaced(sky, quantity, lag + CLOCK * clock) - truth
    steps = np.diff(truth, prepend=truth[0], append=truth[-1])
    both = np.maximum(np.abs(steps[1:]), np.abs(steps[:-1]))
    change = np.maximum(both, np.ptp(fine, axis=1))
    slope = (steps[1:] + steps[:-1]) / 2.0
    own = unit_draw("rectangular", 1, rng)[0]
    late = (np.sqrt(CLOCK) * clock + np.sqrt(lag) * own) * np.sqrt(CLOCK + lag)
    rest = np.sqrt(np.maximum(change**2 - slope**2, 0.0)) * (CLOCK + lag)
    return (late * slope + rest * unit_draw("rectangular", truth.size, rng)) / sky.interval


@dataclass
class Errors:
    """What adds up at one instrument: percent of the signal, W m-2, uV, and the thermistors'."""

    percent: Array
    absolute: Array
    voltage: Array
    body: Array
    dome: Array
    factor: Array


class Shared(NamedTuple):
    """What all instruments have in common: the scale [percent]; gain and clock, of their widths."""

    scale: float
    gain: float
    clock: float


def errors_of(
    quantity: str, sky: Sky, shared: Shared, shaped: bool, rng: np.random.Generator
) -> Errors:
    """Every component of the budget of the instrument that measures a quantity, drawn."""
    row = next(r for r in sky.period.coefficients if r.quantity == quantity)
    found = Errors(*(np.zeros(sky.time.size) for _ in range(6)))
    for part in components_of(row):
        if part.name == "calibration":
            own = np.sqrt(max((part.width / 2) ** 2 - SCALE_UNCERTAINTY**2, 0.0))
            found.percent += shared.scale + rng.normal(0.0, own)
        elif part.name == "logger_gain":
            found.percent += shared.gain * part.width
        elif part.name == "clock":
            found.absolute += _timing(sky, quantity, shared.clock, shaped, rng)
        elif part.name != "logger_resolution":  # voltages are written with so many digits
            where, factor = ENTERS[part.name]
            size = course(part, sky, sky.truth[quantity], shaped, rng)
            getattr(found, where)[:] += size * factor(sky, row)
    return found


def _beam(sky: Sky, row: Coefficients) -> Array:
    """What of the direct meets the instrument. [W m-2]"""
    return sky.truth["dni"] * (row.shade == "none")


def _per_tilt(sky: Sky, row: Coefficients) -> Array:
    """What a lean of a tenth of a degree toward the sun adds. [W m-2]"""
    sine = np.sin(np.radians(sky.zenith)) * (sky.zenith < 90.0)
    return np.asarray(_beam(sky, row) * sine * np.sin(np.radians(0.1)))


def _once(sky: Sky, row: Coefficients) -> float:
    return 1.0


ENTERS: dict[str, tuple[str, Callable[[Sky, Coefficients], Array | float]]] = {
    "non_stability": ("percent", _years),
    "non_linearity": ("percent", _once),
    "temperature": ("percent", _once),
    "spectral": ("percent", _once),
    "maintenance": ("percent", _once),
    "shade_geometry": ("percent", _once),
    "pointing": ("percent", _once),
    "soiling": ("percent", _soiled),
    "directional": ("absolute", lambda sky, row: _beam(sky, row) / 1000.0),
    "zero_offset_a": ("absolute", lambda sky, row: np.abs(sky.net) / 200.0),
    "zero_offset_b": ("absolute", _once),
    "zero_offset_other": ("absolute", _once),
    "level": ("absolute", _per_tilt),
    "window": ("absolute", _once),
    "logger_accuracy": ("voltage", _once),
    "body_temperature": ("body", _once),
    "dome_temperature": ("dome", _once),
    "dome_factor": ("factor", _once),
}
"""Component → what it adds to, and how much of it one unit of the error makes. One that is missing
here stops the month: nobody would draw it."""


def voltages(quantity: str, sky: Sky, bad: Errors) -> tuple[Array, Array, Array]:
    """Mean, smallest and largest voltage of each interval, as the logger writes them. [mV]"""
    sensitivity = invented.SENSITIVITY[POSITION[quantity]]
    lost = 0.0
    if quantity == "lwd":
        excess = (DOME_FACTOR + bad.factor) * SIGMA * (sky.dome**4 - sky.body**4)
        lost = SIGMA * sky.body**4 - excess
    fine = sky.fine[quantity]
    means = [f(fine, axis=1) - lost for f in (np.mean, np.min, np.max)]
    seen = [(1 + bad.percent / 100) * v + bad.absolute for v in means]
    return tuple(np.round(v * sensitivity + bad.voltage, 1) / 1e3 for v in seen)  # type: ignore[return-value]


def measured(sky: Sky, shaped: bool, gaps: bool, rng: np.random.Generator) -> xr.Dataset:
    """What the stages make of the month: values on the grid with their stated uncertainty."""
    shared = Shared(rng.normal(0.0, SCALE_UNCERTAINTY), *rng.uniform(-1.0, 1.0, 2))
    nothing = np.zeros(sky.time.size, bool)
    lost = missing(sky, rng) if gaps else nothing
    # the tracker's outages besides: the selected global then turns to the pyranometer
    alone = {"direct_1": missing(sky, rng) if gaps else nothing}
    data = {
        "logger_time_main": sky.time,
        "line_status_main": np.zeros(sky.time.size, np.int8),
        "source_file_main": np.zeros(sky.time.size, np.int32),
        "source_line_main": np.arange(sky.time.size, dtype=np.int32),
        "air_temperature": sky.body - 273.15,
        "mode": np.ones(sky.time.size),
    }
    for quantity, position in POSITION.items():
        bad = errors_of(quantity, sky, shared, shaped, rng)
        for word, values in zip(("mean", "min", "max"), voltages(quantity, sky, bad), strict=True):
            gone = lost | alone.get(position, nothing)
            data[f"{position}_{word}"] = np.where(gone, np.nan, values)
        data[f"{position}_std"] = np.zeros(sky.time.size)
        if quantity == "lwd":
            data["tb"] = sky.body + bad.body
            data["td"] = sky.dome + bad.body + bad.dome
    names = {"tb": "sky_1_body_temperature", "td": "sky_1_dome_temperature"}
    names |= {"mode": "tracker_mode"}
    ds = xr.Dataset({names.get(n, n): ("reading_main", v) for n, v in data.items()})
    return time_correct(calibrate(with_true_times(ds, sky.period), sky.period), sky.period)


def missing(sky: Sky, rng: np.random.Generator) -> Array:
    """Outages of half an hour to eight hours on a third of the days, and single intervals."""
    lost = rng.random(sky.time.size) < 0.005
    for day in np.unique(sky.time // DAY):
        if rng.random() < 1 / 3:
            first = day * DAY + rng.uniform(0, DAY)
            lost |= (sky.time >= first) & (sky.time < first + rng.uniform(1800, 8 * 3600))
    return lost
