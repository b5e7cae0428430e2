"""Ossel Ridge, invented: a mountain station of the northern hemisphere with two loggers."""

from __future__ import annotations

from northmere.shapes import (
    ALWAYS,
    Certificate,
    Climate,
    Column,
    Injection,
    Instrument,
    Layout,
    Logger,
    Placement,
    Scenario,
    utc,
)

_BENDING = ((-20.0, -0.6), (0.0, -0.1), (20.0, 0.0), (40.0, -0.3))

INSTRUMENTS = (
    Instrument(
        "NMR-G-1041",
        "thermopile_pyranometer",
        "A",
        5.0,
        (
            Certificate("NMR-C-30-0117", "2030-06-14", 8.63, 1.2),
            Certificate("NMR-C-31-0208", "2031-05-26", 8.60, 1.2),
        ),
        temperature_response=_BENDING,
        thermal_offset=(0.012, 0.004),
        transient_offset=0.15,
        directional=0.010,
    ),
    Instrument(
        "NMR-G-1067",
        "thermopile_pyranometer",
        "A",
        5.0,
        (Certificate("NMR-C-31-0061", "2031-02-11", 9.27, 1.2),),
        temperature_response=_BENDING,
        thermal_offset=(0.012, 0.004),
        transient_offset=0.15,
        directional=0.010,
    ),
    Instrument(
        "NMR-G-1052",
        "thermopile_pyranometer",
        "A",
        5.0,
        (Certificate("NMR-C-30-0118", "2030-06-14", 9.04, 1.2),),
        temperature_response=_BENDING,
        thermal_offset=(0.010, 0.004),
        transient_offset=0.15,
        opening=0.10,
    ),
    Instrument(
        "NMR-B-0312",
        "pyrheliometer",
        "A",
        7.0,
        (Certificate("NMR-C-30-0121", "2030-06-17", 7.88, 0.8),),
        temperature_response=((-20.0, -0.3), (20.0, 0.0), (40.0, 0.2)),
        opening=0.10,
        zero=0.4,
    ),
    Instrument(
        "NMR-L-0208",
        "pyrgeometer",
        None,
        12.0,
        (Certificate("NMR-C-30-0125", "2030-07-02", 11.42, 3.0),),
        solar_leak=0.002,
        noise=0.6,
    ),
)

PLACEMENTS = (
    Placement("global_1", "ghi", "NMR-G-1041", ALWAYS, utc("2031-05-12 13:05")),
    Placement("global_1", "ghi", "NMR-G-1067", utc("2031-05-12 13:50")),
    Placement("diffuse_1", "dhi", "NMR-G-1052", ALWAYS),
    Placement("direct_1", "dni", "NMR-B-0312", ALWAYS),
    Placement("longwave_1", "lwd", "NMR-L-0208", ALWAYS),
)


def _radiometer(stem: str, position: str, decimals: int = 4) -> tuple[Column, ...]:
    words = (("mean", "mean"), ("low", "minimum"), ("high", "maximum"), ("dev", "deviation"))
    form = f"%.{decimals}f"
    return tuple(Column(f"{stem}_{word}", "mV", position, name, form) for word, name in words)


def _layout(stamp: str) -> Layout:
    return Layout("iso", (stamp,), ",", "NAN", "OVER", "", ("names",))


MAIN = Logger(
    "main",
    "NMR-D-077",
    3600,
    "end",
    _layout("stamp"),
    (
        *_radiometer("glob", "global_1"),
        *_radiometer("sky", "longwave_1"),
        Column("sky_body", "degC", "longwave_1.body", "mean", "%.2f"),
        Column("air_t", "degC", "air.temperature", "mean", "%.2f"),
        Column("air_rh", "%", "air.humidity", "mean", "%.1f"),
        Column("air_p", "hPa", "air.pressure", "mean", "%.1f"),
        Column("fan", "rpm", "status.ventilator_speed", "mean", "%.0f"),
        Column("supply", "V", "status.supply_voltage", "mean", "%.2f"),
    ),
    clock=(
        (
            (utc("2031-03-20 09:00"), 2.0),
            (utc("2031-04-17 09:30"), -2.5),
            (utc("2031-05-05 10:15"), -5.0),
            (utc("2031-06-03 09:00"), -8.5),
        ),
    ),
)
BEAM = Logger(
    "beam",
    "NMR-D-081",
    3600,
    "end",
    _layout("stamp"),
    (
        *_radiometer("sun", "direct_1"),
        *_radiometer("shade", "diffuse_1"),
        Column("drive", "code", "status.tracker_mode", "mean", "%.0f"),
    ),
    clock=(
        (
            (utc("2031-03-20 09:05"), 0.0),
            (utc("2031-04-02 09:00"), 6.0),
            (utc("2031-04-17 09:35"), 42.5),
            (utc("2031-05-05 10:12:35"), 41.0),
        ),
        ((utc("2031-05-05 10:12:35"), 0.0), (utc("2031-06-03 09:05"), 11.6)),
    ),
)

_DELIVERIES: tuple[tuple[str, str, str, dict[str, float | str]], ...] = (
    ("garbled", "2031-04-02", "main", {"file": "20310402", "lines": 2}),
    ("truncated", "2031-04-11", "beam", {"file": "20310411", "lines": 1}),
    ("garbled", "2031-04-20", "beam", {"file": "20310420", "lines": 3}),
    (
        "delivered_twice",
        "2031-04-16",
        "main",
        {"file": "20310416", "tail": 300, "head": 180},
    ),
    ("truncated", "2031-05-23", "main", {"file": "20310523", "lines": 1}),
)
INJECTIONS = (
    Injection("power_gap", utc("2031-03-29 02:10"), utc("2031-03-29 06:35"), "main"),
    # The tracker's own word goes on saying that it tracks.
    Injection("tracker_stopped", utc("2031-04-03 07:20"), utc("2031-04-03 12:10")),
    Injection("stuck", utc("2031-04-05 11:02"), utc("2031-04-05 12:37"), "diffuse_1"),
    Injection(
        "status_forced",
        utc("2031-04-03 19:10"),
        utc("2031-04-05 08:40"),
        "ventilator_speed",
        {"value": 0.0},
    ),
    Injection("ventilator_off", utc("2031-04-03 19:10"), utc("2031-04-05 08:40")),
    Injection("dome_frosted", utc("2031-04-04 00:30"), utc("2031-04-04 07:40")),
    Injection("dome_frosted", utc("2031-04-05 00:50"), utc("2031-04-05 07:20")),
    Injection(
        "dome_frosted",
        utc("2031-04-04 01:00"),
        utc("2031-04-04 07:10"),
        settings={"component": "lwd"},
    ),
    Injection(
        "level_out",
        utc("2031-04-14 10:20"),
        utc("2031-04-24 09:05"),
        settings={"size": 1.4, "toward": 95.0},
    ),
    Injection(
        "shade_misaligned",
        utc("2031-04-27 05:30"),
        utc("2031-05-05 10:25"),
        settings={"share": 0.2, "azimuth": 110.0},
    ),
    Injection(
        "soiled",
        utc("2031-05-11 06:00"),
        utc("2031-05-21 07:40"),
        settings={"component": "dni", "loss": 0.05},
    ),
    Injection("tracker_stopped", utc("2031-05-18 06:30"), utc("2031-05-18 09:12")),
    Injection(
        "status_forced",
        utc("2031-05-18 06:30"),
        utc("2031-05-18 09:00"),
        "tracker_mode",
        {"value": 0.0},
    ),
    Injection(
        "status_forced",
        utc("2031-05-18 09:00"),
        utc("2031-05-18 09:12"),
        "tracker_mode",
        {"value": 2.0},
    ),
    *(
        Injection(kind, utc(day), utc(day) + 86400.0, logger, settings)
        for kind, day, logger, settings in _DELIVERIES
    ),
)

OSSEL_RIDGE = Scenario(
    id="osr",
    folder="ossel_ridge",
    name="Ossel Ridge",
    latitude=46.91,
    longitude=10.23,
    altitude=2105.0,
    climate=Climate(
        regimes=(0.24, 0.26, 0.26, 0.24),
        persistence=0.25,
        cirrus=0.15,
        temperature=-0.5,
        daily_range=4.5,
        trend=0.12,
        dew_point=-5.0,
        aerosol=0.05,
        wind=8.0,
    ),
    horizon=(
        (0.0, 3.0),
        (45.0, 4.5),
        (80.0, 2.5),
        (110.0, 3.5),
        (150.0, 6.0),
        (190.0, 5.0),
        (230.0, 3.0),
        (270.0, 2.0),
        (310.0, 3.5),
    ),
    instruments=INSTRUMENTS,
    placements=PLACEMENTS,
    places={
        "global_1": (-6.0, 3.0),
        "longwave_1": (-6.0, 5.0),
        "diffuse_1": (6.0, -2.0),
        "direct_1": (5.0, -2.5),
    },
    loggers=(MAIN, BEAM),
    injections=INJECTIONS,
    start="2031-03-25",
    days=64,
    tracker_words={"off": 0, "tracking": 1, "homing": 2},
)
