"""Karru Pan, invented: a dry plain of the southern hemisphere, one logger, another table."""

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

DOME_FACTOR = 3.5

INSTRUMENTS = (
    Instrument(
        "NMR-G-2210",
        "thermopile_pyranometer",
        "B",
        15.0,
        (Certificate("NMR-C-30-0302", "2030-09-03", 11.85, 1.8),),
        temperature_response=((-10.0, -0.9), (20.0, 0.0), (40.0, 0.7)),
        temperature_spread=0.01,
        thermal_offset=(0.017, 0.006),
        transient_offset=0.4,
        directional=0.018,
        nonlinearity=0.003,
        zero=1.0,
    ),
    Instrument(
        "NMR-W-0403",
        "black_and_white_pyranometer",
        "B",
        18.0,
        (Certificate("NMR-C-30-0305", "2030-09-04", 12.31, 1.6),),
        temperature_response=((-10.0, 0.5), (20.0, 0.0), (40.0, -0.4)),
        temperature_spread=0.01,
        thermal_offset=(0.003, 0.002),
        transient_offset=0.3,
        nonlinearity=0.003,
        opening=0.15,
        zero=1.0,
    ),
    Instrument(
        "NMR-B-0327",
        "pyrheliometer",
        "A",
        7.0,
        (Certificate("NMR-C-30-0307", "2030-09-05", 8.21, 0.9),),
        temperature_response=((-20.0, -0.3), (20.0, 0.0), (40.0, 0.2)),
        opening=0.12,
        zero=0.6,
    ),
    Instrument(
        "NMR-L-0214",
        "pyrgeometer",
        None,
        12.0,
        (Certificate("NMR-C-30-0311", "2030-09-09", 4.12, 3.0),),
        dome_factor=DOME_FACTOR,
        solar_leak=0.003,
        noise=0.3,
    ),
)

PLACEMENTS = (
    Placement("global_1", "ghi", "NMR-G-2210", ALWAYS),
    Placement("diffuse_1", "dhi", "NMR-W-0403", ALWAYS),
    Placement("direct_1", "dni", "NMR-B-0327", ALWAYS),
    Placement("longwave_1", "lwd", "NMR-L-0214", ALWAYS),
)


def _radiometer(letter: str, position: str) -> tuple[Column, ...]:
    words = (("mid", "mean"), ("least", "minimum"), ("most", "maximum"), ("spread", "deviation"))
    return tuple(Column(f"{letter}_{word}", "uV", position, name, "%.1f") for word, name in words)


FIELD = Logger(
    "field",
    "NMR-D-112",
    7200,
    "start",
    Layout(
        "year_day_hhmm",
        ("year", "day_of_year", "hhmm"),
        ";",
        "-9999",
        "OVR",
        '"',
        ("file", "names", "units", "statistics"),
        "Northmere Radiation Network (invented): Karru Pan, logger field",
    ),
    (
        *_radiometer("g", "global_1"),
        *_radiometer("d", "diffuse_1"),
        *_radiometer("b", "direct_1"),
        *_radiometer("l", "longwave_1"),
        Column("l_body", "ohm", "longwave_1.body", "mean", "%.1f"),
        Column("l_dome", "ohm", "longwave_1.dome", "mean", "%.1f"),
        Column("t_air", "degC", "air.temperature", "mean", "%.2f"),
        Column("rh_air", "%", "air.humidity", "mean", "%.1f"),
        Column("p_air", "hPa", "air.pressure", "mean", "%.1f"),
        Column("drive", "code", "status.tracker_mode", "mean", "%.0f"),
        Column("bus", "V", "status.supply_voltage", "mean", "%.2f"),
    ),
    clock=(
        (
            (utc("2031-04-03 08:00"), -1.0),
            (utc("2031-04-17 08:30"), 4.0),
            (utc("2031-05-06 08:00"), 9.5),
        ),
    ),
)

_DELIVERIES: tuple[tuple[str, str, dict[str, float | str]], ...] = (
    ("garbled", "2031-04-13", {"file": "20310413", "lines": 2}),
    ("truncated", "2031-04-22", {"file": "20310422", "lines": 1}),
    ("delivered_twice", "2031-04-27", {"file": "20310427", "tail": 240, "head": 120}),
)
INJECTIONS = (
    Injection("over_range", utc("2031-04-15 09:58"), utc("2031-04-15 10:04"), "direct_1"),
    Injection(
        "soiled",
        utc("2031-04-14 06:00"),
        utc("2031-04-26 07:15"),
        settings={"component": "ghi", "loss": 0.03},
    ),
    Injection("power_gap", utc("2031-04-19 22:40"), utc("2031-04-20 05:15"), "field"),
    Injection("tracker_stopped", utc("2031-04-24 08:00"), utc("2031-04-24 11:30")),
    Injection(
        "status_forced",
        utc("2031-04-24 08:00"),
        utc("2031-04-24 11:22"),
        "tracker_mode",
        {"value": 9.0},
    ),
    Injection(
        "status_forced",
        utc("2031-04-24 11:22"),
        utc("2031-04-24 11:30"),
        "tracker_mode",
        {"value": 5.0},
    ),
    *(
        Injection(kind, utc(day), utc(day) + 86400.0, "field", settings)
        for kind, day, settings in _DELIVERIES
    ),
)

KARRU_PAN = Scenario(
    id="kpn",
    folder="karru_pan",
    name="Karru Pan",
    latitude=-30.85,
    longitude=21.98,
    altitude=1012.0,
    climate=Climate(
        regimes=(0.36, 0.27, 0.24, 0.13),
        persistence=0.25,
        cirrus=0.25,
        temperature=17.0,
        daily_range=8.0,
        trend=-0.1,
        dew_point=5.0,
        aerosol=0.07,
        wind=8.0,
    ),
    horizon=(),
    instruments=INSTRUMENTS,
    placements=PLACEMENTS,
    places={
        "global_1": (5.0, 2.0),
        "longwave_1": (5.0, 4.0),
        "diffuse_1": (-3.0, -1.0),
        "direct_1": (-4.0, -1.0),
    },
    loggers=(FIELD,),
    injections=INJECTIONS,
    start="2031-04-10",
    days=23,
    tracker_words={"off": 9, "tracking": 3, "homing": 5},
)
