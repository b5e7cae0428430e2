"""Figures of the evidence: what a finding rests on, drawn from the month's minute file."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sunledger.archive.minute_series import read_minutes
from sunledger.archive.netcdf import read_file
from sunledger.diagnosis.beside import net_longwave
from sunledger.diagnosis.obstacles import CELL, SunPath, suggested_skyline, sun_path
from sunledger.diagnosis.ratios import day_values, sky_ratios
from sunledger.diagnosis.selection import DAY, Components, clear_minutes, solar_day
from sunledger.report.axes import new_axes, say_empty

Array = npt.NDArray[np.float64]
Row = Mapping[str, Any]
WIDE = (9.0, 3.4)
SITE = ("latitude", "longitude", "altitude")
BIN = 10.0
"""Width of the bins of azimuth in which closure is drawn. [degree]"""
NIGHT = 100.0
"""[degree]"""
MOST = 8
"""Findings of a month that are drawn."""


def components_of_file(path: Path) -> Components:
    """
    The three components of a minute file, for drawing.

    Parameters
    ----------
    path : Path
        Minute file.

    Returns
    -------
    parts : Components
        At the middles of their labels; all minutes count as usable.
    """
    ds = read_minutes(path)
    place = {v.name: float(v.data) for v in read_file(path, variables=SITE).variables}
    interval = int(ds.attrs["interval"])
    ghi, dhi, dni = (ds[q].values.astype(np.float64) for q in ("ghi", "dhi", "dni"))
    middle = ds["time"].values + interval / 2
    every = np.ones(middle.size, dtype=bool)
    return Components(middle, interval, ghi, dhi, dni, every, *(place[name] for name in SITE))


def sun_path_map(path: Path) -> Figure:
    """
    Sun-path map of obstacles, with the horizon profile that they suggest.

    Parameters
    ----------
    path : Path
        Minute file.

    Returns
    -------
    figure : matplotlib.figure.Figure
        Cells that the sun passed, the darker the more days in shadow; crosses where shadows return
        more often than clouds do; a line for the suggested profile.
    """
    return _map(sun_path(components_of_file(path)))


def _map(path: SunPath) -> Figure:
    figure, axes = new_axes(*WIDE)
    axes.set(xlabel="azimuth of the sun [degree]", ylabel="elevation [degree]")
    if not path.azimuth.size:
        say_empty(axes, "no minute tells of shadows")
        return figure
    middle = path.azimuth + CELL[0] / 2, path.elevation + CELL[1] / 2
    look: dict[str, Any] = {"cmap": "Greys", "vmin": 0.0, "vmax": 100.0, "marker": "s", "s": 14.0}
    dots = axes.scatter(*middle, c=100 * path.shaded, edgecolors="0.8", linewidths=0.2, **look)
    figure.colorbar(dots, ax=axes, label="days in shadow [%]")
    here = path.returning
    if here.any():
        axes.plot(*(m[here] for m in middle), "x", color="C3", label="shadow that returns")
    corners = suggested_skyline(path)
    if corners:
        axes.plot(*zip(*corners, strict=True), "o-", color="C0", label="suggested horizon profile")
    if here.any() or corners:
        axes.legend(fontsize=8)
    return figure


def evidence_of(row: Row, path: Path) -> Figure | None:
    """
    Draw what a finding rests on.

    Parameters
    ----------
    row : mapping
        A line of the findings file.
    path : Path
        Minute file of its month.

    Returns
    -------
    figure : matplotlib.figure.Figure or None
        None for a name without a drawing.
    """
    draw = DRAWINGS.get(row["name"])
    return None if draw is None else draw(row, path)


def evidence_pictures(rows: Sequence[Row], path: Path) -> Iterator[tuple[Figure, str]]:
    """
    Drawings of the evidence of a month's findings, with what each shows.

    Parameters
    ----------
    rows : sequence of mapping
        Findings of the month, the costliest first.
    path : Path
        Its minute file.

    Yields
    ------
    figure, caption : Figure, str
        At most ``MOST`` findings; those of one drawing and onset are drawn once.
    """
    drawn = set()
    for row in rows[:MOST]:
        kind = (DRAWINGS.get(row["name"]), row["onset"], row["evidence"].get("azimuth_from"))
        figure = None if kind in drawn else evidence_of(row, path)
        drawn.add(kind)
        if figure is not None:
            yield figure, f"Evidence of {row['name'].replace('_', ' ')}, {row['target']}"


def _closure_by_azimuth(row: Row, path: Path) -> Figure:
    """Before and behind the onset: a wave is a lean or a clock, a level a sensitivity."""
    parts = components_of_file(path)
    clear = clear_minutes(parts)
    figure, axes = new_axes(*WIDE)
    axes.set(xlabel="azimuth of the sun [degree]", ylabel="closure over direct [%]")
    axes.axhline(0.0, color="0.6", linewidth=0.8)
    share = 100 * clear.residual / np.maximum(clear.dni, 1.0)
    later = clear.middle >= (np.inf if row["onset"] is None else row["onset"])
    for chosen, mark, words in ((~later, "o-", "before"), (later, "s--", "since the onset")):
        _bins(axes, clear.azimuth[chosen], share[chosen], mark, words)
    if not axes.lines[1:]:
        say_empty(axes, "no clear steady minute")
    else:
        axes.legend(fontsize=8)
    return figure


def _bins(axes: Axes, azimuth: Array, values: Array, mark: str, words: str) -> None:
    """Medians with the middle half of the values."""
    numbers = np.floor(azimuth / BIN)
    groups = [values[numbers == n] for n in np.unique(numbers)]
    if not groups:
        return
    low, middle, high = np.array([np.quantile(g, [0.25, 0.5, 0.75]) for g in groups]).T
    at = (np.unique(numbers) + 0.5) * BIN
    axes.errorbar(at, middle, [middle - low, high - middle], fmt=mark, capsize=2, label=words)


def _ratios_by_day(row: Row, path: Path) -> Figure:
    """Clear and dull ratio of each day: which of the two moved tells the instrument."""
    clear, dull = sky_ratios(components_of_file(path))
    figure, axes = new_axes(*WIDE)
    axes.set(xlabel="day of the month, local", ylabel="global over component sum - 1 [%]")
    axes.axhline(0.0, color="0.6", linewidth=0.8)
    for values, mark, words in (
        (day_values(clear), "o", "clear sky"),
        (day_values(dull, None, 1), "s", "dull sky"),
    ):
        days = values.day.astype("datetime64[D]")
        at = (days - days.astype("datetime64[M]")).astype(int) + 1
        face = "none" if mark == "s" else None
        axes.plot(at, 100 * np.expm1(values.value), mark, markerfacecolor=face, label=words)
    likely = row["evidence"].get("onset_likely")
    if row["onset"] is not None:
        words = "onset" if likely is None else "earliest onset"
        axes.axvline(_day(row["onset"]), color="0.3", linestyle=":", label=words)
    if likely is not None:
        axes.axvline(_day(likely), color="0.3", linestyle="--", label="likely onset")
    axes.legend(fontsize=8)
    return figure


def _day(seconds: float) -> float:
    """Day of the month with its fraction, UTC."""
    month = np.datetime64(int(seconds), "s").astype("datetime64[M]")
    return float((seconds - month.astype("datetime64[s]").astype(np.int64)) / DAY + 1)


def _closure_by_sector(row: Row, path: Path) -> Figure:
    """Ratio over azimuth: a local dent is a shade, a pointing error or an obstacle."""
    clear, _ = sky_ratios(components_of_file(path))
    figure, axes = new_axes(*WIDE)
    axes.set(xlabel="azimuth of the sun [degree]", ylabel="global over component sum - 1 [%]")
    _bins(axes, clear.azimuth, 100 * np.expm1(clear.log_ratio), "o-", "clear minutes")
    start = row["evidence"].get("azimuth_from")
    if start is not None:
        axes.axvspan(start, start + 15.0, color="0.85", label="sector of the finding")
    axes.legend(fontsize=8) if clear.day.size else say_empty(axes, "no clear steady minute")
    return figure


def _day_of_onset(row: Row, path: Path) -> Figure:
    """The day on which it began: what global less diffuse shows, and what the direct does."""
    parts = components_of_file(path)
    figure, axes = new_axes(*WIDE)
    day = solar_day(parts.middle, parts.longitude)
    first = parts.middle[0] if row["onset"] is None else row["onset"]
    here = day == solar_day(np.array([first]), parts.longitude)[0]
    hour = ((parts.middle[here] + parts.longitude * 240.0) % DAY) / 3600.0
    flat = np.maximum(np.cos(np.radians(parts.sun.zenith[here])), 0.0)
    axes.plot(hour, (parts.ghi - parts.dhi)[here], "-", label="global less diffuse")
    axes.plot(hour, parts.dni[here] * flat, "--", label="direct on the horizontal")
    axes.set(xlabel="hour, local mean time", ylabel="[W m-2]", xlim=(0, 24))
    axes.legend(fontsize=8)
    return figure


def _nights(row: Row, path: Path) -> Figure:
    """Offset of each night over its net longwave."""
    parts, ds = components_of_file(path), read_minutes(path)
    figure, axes = new_axes(*WIDE)
    value = ds[row["target"]].values.astype(np.float64)
    known = "lwd" in ds and "lwd_body_temperature" in ds
    net = net_longwave(ds["lwd"].values, ds["lwd_body_temperature"].values) if known else None
    night = solar_day(parts.middle - DAY // 2, parts.longitude)
    at = night - night[0] if net is None else net
    dark = (parts.sun.zenith > NIGHT) & np.isfinite(value) & np.isfinite(at)
    numbers = np.unique(night[dark])
    places = [np.median(at[dark & (night == n)]) for n in numbers]
    axes.plot(places, [np.median(value[dark & (night == n)]) for n in numbers], "o")
    words = "night of the month" if net is None else "net longwave [W m-2]"
    axes.set(xlabel=words, ylabel=f"{row['target']} at night [W m-2]")
    return figure


def _shadows(row: Row, path: Path) -> Figure:
    return sun_path_map(path)


DRAWINGS: Mapping[str, Callable[[Row, Path], Figure]] = {
    **dict.fromkeys(
        (
            *("level_step", "north_lean_or_responsivity_step", "clock_check_contradicted"),
            *("clock_or_east_lean_step", "clock_or_east_lean_drift"),
        ),
        _closure_by_azimuth,
    ),
    **dict.fromkeys(
        (
            *("sensitivity_changed", "sensitivity_off_certificate", "closure_changed_cause_open"),
            *("closure_off_cause_open", "certificates_swapped", "certificate_of_another"),
            *("cleaning_step", "soiling_drift", "responsivity_beyond_limits"),
        ),
        _ratios_by_day,
    ),
    **dict.fromkeys(("fails_at_one_sun_azimuth", "shade_or_pointing_drift"), _closure_by_sector),
    **dict.fromkeys(
        (
            *("direct_lost", "tracker_off_sun", "frost_mornings", "polarity_reversed"),
            *("channels_exchanged", "factor_of_ten", "time_zone_error", "half_day_error"),
            *("longitude_reversed", "latitude_reversed"),
        ),
        _day_of_onset,
    ),
    **dict.fromkeys(("night_offset_beyond_class", "night_offset_changed"), _nights),
    "returning_shadow": _shadows,
}
"""Name of a finding → its drawing."""
