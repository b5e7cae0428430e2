"""The faults whose finding is scored: how each is put in, where, and which bit must name it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
import xarray as xr

import injected
from faults import domes, levelling, pointing, signals

Put = Callable[[xr.Dataset, float, float], xr.Dataset]
CLOSURE = ("components_disagree", "components_disagree_for_long")


@dataclass(frozen=True)
class Fault:
    """One fault model with its settings."""

    name: str
    own: tuple[str, ...]
    quantities: tuple[str, ...]
    minutes: tuple[int, int]
    put: Put
    at_dawn: bool = False
    whole_stretch: bool = False
    """Every minute of daylight counts as affected, whatever the change."""

    def may_start(self, ds: xr.Dataset) -> np.ndarray:
        """Minutes at which it may begin."""
        zenith = ds["solar_zenith_angle"].values
        if not self.at_dawn:
            there = [ds[q].values > 5 for q in self.quantities if self.whole_stretch]
            return np.logical_and.reduce([zenith < 75, *there])
        dawn = (zenith < 86) & (zenith > 80) & (ds["solar_azimuth_angle"].values < 180)
        return dawn & (ds["relative_humidity"].values > 0.88)

    def hit(self, before: xr.Dataset, changed: np.ndarray, inside: np.ndarray) -> np.ndarray:
        """Minutes that count as affected."""
        if not self.whole_stretch:
            return changed & inside
        there = np.logical_and.reduce([before[q].values > 5 for q in self.quantities])
        return inside & there & (before["solar_zenith_angle"].values < 85)


def on_light(model: Callable[..., Any], **settings: Any) -> Put:
    """A fault that acts on light."""

    def put(ds: xr.Dataset, start: float, end: float) -> xr.Dataset:
        return injected.with_light(ds, partial(model, start=start, end=end, **settings))

    return put


def on_signal(quantity: str, model: Callable[..., Any], **settings: Any) -> Put:
    """A fault that acts on one signal."""

    def put(ds: xr.Dataset, start: float, end: float) -> xr.Dataset:
        return injected.with_signal(
            ds, quantity, lambda values, time: model(values, time, start, end, **settings)
        )

    return put


def swapped(first: str, second: str, ratio: float) -> Put:
    """Two certificates exchanged."""

    def put(ds: xr.Dataset, start: float, end: float) -> xr.Dataset:
        one = on_signal(first, signals.sensitivity_wrong, error=ratio - 1.0)
        two = on_signal(second, signals.sensitivity_wrong, error=1.0 / ratio - 1.0)
        return two(one(ds, start, end), start, end)

    return put


def pyrgeometer_wrong(ds: xr.Dataset, start: float, end: float, error: float) -> xr.Dataset:
    """Another sensitivity of the pyrgeometer: its signal is the sky's less its own emission."""
    time, values = ds["time"].values, injected.statistics_of(ds, "lwd")
    net = values + -injected.SIGMA * ds["air_temperature"].values ** 4
    inside = (time >= start) & (time < end)
    return injected.with_values(ds, lwd=values + net.mean * np.where(inside, error, 0.0))


def clock_out(ds: xr.Dataset, start: float, end: float, minutes: int = 5) -> xr.Dataset:
    """All values of the stretch late by some minutes."""
    time = ds["time"].values
    inside = (time >= start) & (time < end)
    index = np.where(inside, np.maximum(np.arange(time.size) - minutes, 0), np.arange(time.size))
    values = {q: injected.statistics_of(ds, q).rows(index) for q in ("ghi", "dhi", "dni", "lwd")}
    return injected.with_values(ds, **values)


def gone(ds: xr.Dataset, start: float, end: float) -> xr.Dataset:
    """Global not delivered."""
    time = ds["time"].values
    inside = (time >= start) & (time < end)
    nothing = np.where(inside, np.nan, 1.0)
    return injected.with_values(ds, ghi=injected.statistics_of(ds, "ghi") * nothing)


HOURS, SHORT = (60, 240), (1, 4)
NAMES = {"ghi": "global", "dhi": "diffuse", "dni": "direct"}
FAULTS: tuple[Fault, ...] = (
    Fault(
        "tracker stopped",
        ("tracker_off_sun",),
        ("dni", "dhi"),
        (90, 300),
        on_light(pointing.tracker_stopped),
    ),
    Fault(
        "pyrheliometer slipped",
        ("pyrheliometer_off_sun",),
        ("dni",),
        HOURS,
        on_light(pointing.pyrheliometer_slipped),
    ),
    Fault(
        "pyrheliometer's cable off",
        ("pyrheliometer_off_sun",),
        ("dni",),
        HOURS,
        on_signal("dni", signals.cable_off),
    ),
    *(
        Fault(
            f"shade leaks {share:.0%}",
            ("shade_misaligned",),
            ("dhi",),
            HOURS,
            on_light(pointing.shade_leaking, share=share),
        )
        for share in (0.1, 0.2, 1.0)
    ),
    Fault(
        "direct obstructed 20 %",
        ("beam_obstructed",),
        ("dni",),
        HOURS,
        on_light(pointing.beam_obstructed),
    ),
    *(
        Fault(
            f"{NAMES[q]} stuck",
            ("stuck_value",),
            (q,),
            (20, 90),
            on_signal(q, signals.stuck),
            whole_stretch=True,
        )
        for q in NAMES
    ),
    Fault(
        "longwave stuck",
        ("stuck_value",),
        ("lwd",),
        (20, 90),
        on_signal("lwd", signals.stuck),
        whole_stretch=True,
    ),
    *(
        Fault(
            f"{NAMES[q]} reversed",
            ("polarity_reversed",),
            (q,),
            HOURS,
            on_signal(q, signals.polarity_reversed),
        )
        for q in NAMES
    ),
    *(
        Fault(
            f"{NAMES[q]} {error:+.0%}",
            CLOSURE,
            (q,),
            HOURS,
            on_signal(q, signals.sensitivity_wrong, error=error),
        )
        for q in NAMES
        for error in (0.03, -0.03, 0.1, -0.1)
    ),
    *(
        Fault(
            f"longwave {error:+.0%}",
            ("longwave_against_air_temperature",),
            ("lwd",),
            HOURS,
            partial(pyrgeometer_wrong, error=error),
        )
        for error in (0.03, -0.03, 0.1, -0.1)
    ),
    *(
        Fault(
            f"{NAMES[first]}–{NAMES[second]} swapped {ratio}",
            CLOSURE,
            (first, second),
            HOURS,
            swapped(first, second, ratio),
        )
        for first, second in (("ghi", "dhi"), ("ghi", "dni"), ("dhi", "dni"))
        for ratio in (1.02, 1.05, 1.1)
    ),
    *(
        Fault(
            f"global out of level {size:.0f}°",
            (),
            ("ghi",),
            HOURS,
            on_light(levelling.level_out, size=size),
        )
        for size in (1.0, 2.0)
    ),
    *(
        Fault(
            f"{NAMES[q]} soiled to −5 %",
            ("soiled",),
            (q,),
            (9 * 1440, 10 * 1440),
            on_light(domes.soiled, component=q),
        )
        for q in ("ghi", "dni")
    ),
    Fault(
        "frost or dew on the global dome at dawn",
        ("frost_or_ventilation",),
        ("ghi",),
        (90, 180),
        on_light(domes.dome_frosted),
        at_dawn=True,
    ),
    Fault(
        "ventilator off, no status",
        ("frost_or_ventilation",),
        ("ghi",),
        HOURS,
        on_light(domes.ventilator_off),
    ),
    *(
        Fault(
            f"{NAMES[q]} spike {height:.0f} W m⁻²",
            ("spike",),
            (q,),
            SHORT,
            on_signal(q, signals.spike, height=height),
        )
        for q in NAMES
        for height in (30.0, 50.0, 100.0)
    ),
    Fault("clock out 5 min", (), ("ghi",), HOURS, clock_out),
    Fault(
        "water in the diffuse dome",
        CLOSURE,
        ("dhi",),
        HOURS,
        on_light(domes.water_in_dome, component="dhi"),
    ),
    Fault("global missing", ("missing",), ("ghi",), HOURS, gone, whole_stretch=True),
)
