"""Invented files of every product, small enough to be written in a test."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from sunledger.archive import conventions as shared
from sunledger.archive import conventions_aggregates as aggregates
from sunledger.archive import conventions_readings as readings
from sunledger.archive import conventions_tables as tables
from sunledger.archive.changes import Entry
from sunledger.archive.conventions_global import (
    ProductNotes,
    Traces,
    global_attributes,
    place_of,
)
from sunledger.archive.conventions_series import quantity_variables
from sunledger.archive.specification import FileSpec, GroupSpec, VariableSpec
from sunledger.config.models.base import Contact
from sunledger.config.models.station import Station
from sunledger.config.models.workflow import Network
from sunledger.vocabulary import QUANTITIES

PARTY = Contact(
    role="DataManager",
    institution="Northmere Radiation Network (invented)",
    email="data@example.org",
    url="https://example.org",
)
NETWORK = Network(
    id="nrn",
    name="Northmere Radiation Network",
    naming_authority="org.example",
    summary="Solar and longwave irradiance with flags and uncertainty. Invented example data.",
    project="Invented project",
    program="Invented programme",
    acknowledgement="none, invented data",
    references="https://example.org/documentation",
    metadata_link="https://example.org/metadata",
    publisher=PARTY,
    creator=PARTY,
    keywords=("EARTH SCIENCE > ATMOSPHERE > ATMOSPHERIC RADIATION > SOLAR IRRADIANCE",),
)
# Only what the archive reads of a station; its loggers do not matter here.
STATION = Station.model_construct(
    id="ossel",
    name="Össel Ridge",
    description="Invented mountain station.",
    latitude=46.8,
    longitude=9.8,
    altitude=1610.0,
    licence="https://creativecommons.org/licenses/by/4.0/",
    contact=PARTY,
)
TRACES = Traces("ab" * 32, "cd" * 32)
ENTRY = Entry(
    "minute", "2031-03", 1, "provisional", "created", "2031-05-01", "sunledger 0.1.0", "", "ef" * 32
)
POSITIONS = {
    "ghi": ("global_1", "thermopile pyranometer"),
    "dni": ("direct_1", "pyrheliometer"),
    "lwd": ("longwave_1", "pyrgeometer"),
}


def month_start(text: str) -> int:
    """Seconds since 1970 of the first instant of a month."""
    return int(datetime.fromisoformat(f"{text}-01").replace(tzinfo=UTC).timestamp())


def notes(product: str, period: str, times: np.ndarray, resolution: str) -> ProductNotes:
    """What is said about a file."""
    return ProductNotes(
        product,
        period,
        "calibrated, flagged, nothing removed",
        "surface observation: thermopile radiometers on a sun tracker",
        "thermopile pyranometer, pyrheliometer, pyrgeometer",
        "Time stamps are the start of the averaging interval, in UTC; see time_bounds.",
        float(times[0]),
        float(times[-1]),
        "P1M",
        resolution,
    )


def attributes(product: str, period: str, times: np.ndarray, resolution: str) -> dict:
    """Global attributes of an invented file."""
    said = notes(product, period, times, resolution)
    return global_attributes(NETWORK, STATION, said, TRACES, ENTRY)


def containers() -> tuple[VariableSpec, ...]:
    """Instrument containers of the three positions."""
    return tuple(shared.instrument_container(*pair) for pair in POSITIONS.values())


def history(rows: int = 2) -> GroupSpec:
    """Tables with the given number of deployments."""
    deployment = tables.table(
        "deployment",
        "Instrument deployments that apply to this file",
        [
            tables.column(
                "deployment",
                "serial_number",
                np.array([f"N-{i:03}" for i in range(rows)], str),
                "serial number",
            ),
            tables.column(
                "deployment",
                "sensitivity",
                8.5 + np.arange(rows, dtype=float),
                "sensitivity used",
                units="uV W-1 m2",
            ),
            tables.time_column(
                "deployment", "deployment_end", np.full(rows, np.nan), "end", "missing: still there"
            ),
        ],
        "one row per instrument and certificate",
    )
    return tables.metadata_group([deployment])


def minute_series(count: int, seed: int, mean: np.ndarray) -> dict[str, np.ndarray]:
    """Arrays of one quantity; the first value is missing."""
    rng = np.random.default_rng(seed)
    mean = mean.copy()
    mean[0] = np.nan
    flags = np.zeros(count, np.int32)
    flags[0], flags[1] = 1, 1 << 23
    return {
        "mean": mean,
        "min": mean - 1,
        "max": mean + 1,
        "std": np.abs(rng.normal(0.5, 0.1, count)),
        "flags": flags,
        "tested": np.full(count, (1 << 24) - 1, np.int32),
        "conditions": np.full(count, 16, np.int32),
        "grade": np.where(flags, 9, 1).astype(np.int8),
        "uncertainty": 0.02 * np.abs(mean),
    }


def minute_file(month: str = "2031-03", days: int = 3, rows: int = 2) -> FileSpec:
    """A minute product of the first days of a month."""
    times = month_start(month) + 60 * np.arange(1440 * days)
    count = times.size
    day = np.maximum(np.sin(np.arange(count) * 2 * np.pi / 1440), 0) * 900
    air = QUANTITIES["air_temperature"]
    series = [
        variable
        for seed, (name, (position, _)) in enumerate(POSITIONS.items())
        for variable in quantity_variables(
            QUANTITIES[name], minute_series(count, seed, day + 10 * seed), position, "1 s"
        )
    ]
    second = shared.at_position(QUANTITIES["ghi"], "global_2")
    return FileSpec(
        attributes("minute", month, times, "PT1M"),
        {"time": count, "bound": 2},
        (
            *shared.time_variables(times, times + 60, "one-minute averaging interval"),
            *shared.station_variables(place_of(STATION)),
            *series,
            *quantity_variables(second, {"mean": day}),
            *quantity_variables(air, {"mean": day / 90 + 270, "std": day * 0 + 0.5}),
            *quantity_variables(
                QUANTITIES["wind_from_direction"], {"mean": np.linspace(0, 359, count)}
            ),
            *shared.sun_angles(90 - day / 15, np.linspace(0, 359.9, count)),
            shared.clock_residual("main", np.full(count, 1.5)),
            *containers(),
        ),
        (history(rows),),
    )


def aggregate_file(product: str, times: np.ndarray, ends: np.ndarray, resolution: str) -> FileSpec:
    """An aggregate product with all variables of one quantity, a derived one, and sunshine."""
    count = times.size
    counts = {
        "withheld": np.zeros(count, np.int32),
        "number_of_observations": np.full(count, 58),
        "number_of_missing_observations": np.full(count, 2),
        "coverage_fraction": np.full(count, 58 / 60),
    }
    full = {
        "mean": np.linspace(100, 200, count),
        "uncertainty": np.full(count, 4.0),
        "std": np.full(count, 3.0),
        "min": np.full(count, 80.0),
        "max": np.full(count, 250.0),
        "exposure": np.linspace(1e5, 2e5, count),
        "exposure_uncertainty": np.full(count, 4e3),
        **counts,
    }
    said = aggregates.AggregateNotes(
        product,
        "mean of the minutes that count",
        "errors fully correlated within the period",
        "withheld below a coverage of 0.5",
    )
    derived = aggregates.DERIVED["dni_horizontal"]
    return FileSpec(
        attributes(product, "2031", times, resolution),
        {"time": count, "bound": 2},
        (
            *shared.time_variables(times, ends, f"{product} averaging interval"),
            *shared.station_variables(place_of(STATION)),
            *aggregates.aggregate_variables(QUANTITIES["ghi"], full, said, "global_1"),
            *aggregates.aggregate_variables(derived, {"mean": full["mean"], **counts}, said),
            *aggregates.sunshine_variables({"mean": full["mean"], **counts}, said, 120.0),
            *containers(),
        ),
        (history(),),
    )


def hourly_file() -> FileSpec:
    """Two months of hours."""
    times = month_start("2031-03") + 3600 * np.arange(24 * 61)
    return aggregate_file("hourly", times, times + 3600, "PT1H")


def monthly_file() -> FileSpec:
    """Three months, of unequal length."""
    edges = np.array([month_start(m) for m in ("2031-01", "2031-02", "2031-03", "2031-04")])
    return aggregate_file("monthly", edges[:-1], edges[1:], "P1M")


def voltage_file() -> FileSpec:
    """A voltage product of two loggers, one of whose clocks was set back for some minutes."""
    start = month_start("2031-03")
    main = start + 60 * np.arange(5000)
    main[300:] -= 600
    beam = start + 60 * np.arange(100)
    rng = np.random.default_rng(3)
    volts = np.round(rng.uniform(0, 9, main.size), 4)
    volts[7] = np.nan
    mode = np.ones(beam.size)
    mode[5] = np.nan
    said = readings.ChannelNotes
    spec = attributes("voltage", "2031-03", main, "PT1M")
    return FileSpec(
        spec,
        {"reading_main": main.size, "reading_beam": beam.size},
        (
            readings.logger_time("main", main),
            readings.logger_time("beam", beam),
            *shared.station_variables(place_of(STATION)),
            *readings.line_variables("main", main * 0, main * 0, np.arange(main.size) + 2),
            *readings.line_variables("beam", beam * 0, beam * 0, np.arange(beam.size) + 2),
            readings.channel(
                "global_1", "main", volts, said("voltage of global_1", "mV", position="global_1")
            ),
            readings.channel(
                "longwave_1_body_temperature",
                "main",
                np.round(volts + 3, 2),
                said("body temperature of longwave_1", "degC", position="longwave_1"),
            ),
            readings.channel(
                "tracker_mode",
                "beam",
                mode,
                said("mode of the tracker", "1", meanings={0: "off", 1: "tracking"}),
            ),
            readings.channel(
                "direct_1",
                "beam",
                rng.normal(size=beam.size),
                said("voltage of direct_1", "mV", position="direct_1"),
            ),
            *containers(),
        ),
        (history(),),
    )


def with_attributes(spec: FileSpec, **changed: object) -> FileSpec:
    """The same file with other global attributes."""
    return replace(spec, attributes={**spec.attributes, **changed})
