"""Puts the injected faults where they act: on light, on signals, on rows, on lines."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from faults import domes, files, levelling, pointing, signals
from faults.readings import Light, Statistics
from northmere.noise import Floats, stream
from northmere.shapes import Injection, Logger, Scenario

ON_LIGHT: Mapping[str, Callable[..., Light]] = {
    "tracker_stopped": pointing.tracker_stopped,
    "pyrheliometer_slipped": pointing.pyrheliometer_slipped,
    "shade_leaking": pointing.shade_leaking,
    "shade_misaligned": pointing.shade_misaligned,
    "beam_obstructed": pointing.beam_obstructed,
    "soiled": domes.soiled,
    "dome_frosted": domes.dome_frosted,
    "ventilator_off": domes.ventilator_off,
    "water_in_dome": domes.water_in_dome,
    "level_out": levelling.level_out,
}
ON_SIGNAL: Mapping[str, Callable[..., Any]] = {
    "stuck": signals.stuck,
    "polarity_reversed": signals.polarity_reversed,
    "sensitivity_wrong": signals.sensitivity_wrong,
    "spike": signals.spike,
    "cable_off": signals.cable_off,
    "over_range": signals.over_range,
}
STATUS = ("status_forced",)
ON_ROWS = ("power_gap",)
ON_LINES = ("delivered_twice", "garbled", "truncated")
KINDS = (*ON_LIGHT, *ON_SIGNAL, *STATUS, *ON_ROWS, *ON_LINES)


def check_kinds(injections: Iterable[Injection]) -> None:
    """
    Refuse unknown kinds before anything is computed.

    Parameters
    ----------
    injections : iterable of Injection
        Asked for.

    Raises
    ------
    ValueError
        If a kind is unknown.
    """
    unknown = sorted({i.kind for i in injections} - set(KINDS))
    if unknown:
        raise ValueError(f"unknown fault {', '.join(unknown)}; known: {', '.join(KINDS)}")


def disturbed_light(light: Light, injections: Iterable[Injection]) -> Light:
    """
    Light after all faults that act on it.

    Parameters
    ----------
    light : Light
        Without faults.
    injections : iterable of Injection
        Applied in order.

    Returns
    -------
    light : Light
        With them.
    """
    for fault in injections:
        if fault.kind in ON_LIGHT:
            light = ON_LIGHT[fault.kind](light, fault.start, fault.end, **fault.settings)
    return light


def disturbed_signal(
    position: str, values: Statistics, true_start: Floats, injections: Iterable[Injection]
) -> Statistics:
    """
    Logged signal of one position after all faults that act on it.

    Parameters
    ----------
    position : str
        Position.
    values : Statistics
        Without faults, one row an interval.
    true_start : ndarray of float, shape (rows,)
        True start of the rows. [s]
    injections : iterable of Injection
        Applied in order.

    Returns
    -------
    values : Statistics
        With them.
    """
    for fault in injections:
        if fault.kind in ON_SIGNAL and fault.position == position:
            act = ON_SIGNAL[fault.kind]
            values = act(values, true_start, fault.start, fault.end, **fault.settings)
    return values


def forced_status(
    what: str, values: Floats, true_start: Floats, injections: Iterable[Injection]
) -> Floats:
    """
    A status column after the injections that bear on it.

    Parameters
    ----------
    what : str
        Status, such as ``tracker_mode``.
    values : ndarray of float, shape (rows,)
        Without faults.
    true_start : ndarray of float, shape (rows,)
        True start of the rows. [s]
    injections : iterable of Injection
        ``status_forced`` with the setting ``value``.

    Returns
    -------
    values : ndarray of float, shape (rows,)
        With them.
    """
    for fault in injections:
        if fault.kind == "status_forced" and fault.position == what:
            inside = (true_start >= fault.start) & (true_start < fault.end)
            values = np.where(inside, float(fault.settings["value"]), values)
    return values


def written_rows(
    logger: Logger, true_start: Floats, injections: Iterable[Injection]
) -> NDArray[np.bool_]:
    """
    Rows that a logger writes in spite of power cuts.

    Parameters
    ----------
    logger : Logger
        Which.
    true_start : ndarray of float, shape (rows,)
        True start of the rows. [s]
    injections : iterable of Injection
        ``power_gap`` at this logger.

    Returns
    -------
    kept : ndarray of bool, shape (rows,)
        False in the gaps.
    """
    kept = np.ones(true_start.size, dtype=bool)
    for fault in injections:
        if fault.kind == "power_gap" and fault.position == logger.name:
            kept &= files.power_gap(true_start, fault.start, fault.end)
    return kept


def disturbed_files(
    scenario: Scenario,
    logger: Logger,
    delivered: dict[str, list[str]],
    injections: Iterable[Injection],
    seed: int,
) -> dict[str, list[str]]:
    """
    Files of a logger after the faults of delivery.

    Parameters
    ----------
    scenario : Scenario
        For the random stream.
    logger : Logger
        Which.
    delivered : dict of list of str
        File name → lines.
    injections : iterable of Injection
        Setting ``file`` names the file by its day; ``lines`` says how many are spoilt.
    seed : int
        For the random stream.

    Returns
    -------
    delivered : dict of list of str
        New dictionary; the files not concerned are the same lists.
    """
    out = dict(delivered)
    for fault in injections:
        name = f"{logger.name}_{fault.settings.get('file', '')}"
        if fault.kind in ON_LINES and fault.position == logger.name and name in out:
            rng = stream(scenario.id, seed, fault.kind, name)
            out.update(_delivery(fault, logger, name, out, rng))
    return dict(sorted(out.items()))


def _delivery(
    fault: Injection,
    logger: Logger,
    name: str,
    delivered: Mapping[str, list[str]],
    rng: np.random.Generator,
) -> dict[str, list[str]]:
    header, lines = len(logger.layout.header), list(delivered[name])
    if fault.kind == "delivered_twice":
        later = min((n for n in delivered if n > name and len(n) == len(name)), default=name)
        tail, head = int(fault.settings["tail"]), int(fault.settings["head"])
        twice = files.delivered_twice(lines, delivered[later], header, tail, head)
        return {f"{name}_again": twice}
    wanted = min(int(fault.settings["lines"]), len(lines) - header)
    for row in rng.choice(np.arange(header, len(lines)), size=wanted, replace=False):
        spoil = files.garbled if fault.kind == "garbled" else files.truncated
        lines[row] = spoil(lines[row], rng)
    return {name: lines}
