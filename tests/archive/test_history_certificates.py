"""Certificates in the history tables: those that bear on a period, of instruments and of inputs."""

from __future__ import annotations

import math
from typing import Any

import invented
import signal_ways
from sunledger.archive.history_certificates import calibration_rows, input_rows
from sunledger.config.models.base import parse_utc
from sunledger.config.models.processing import CalibrateSettings

START, END = (int(parse_utc(d)) for d in ("2031-03-01", "2031-04-01"))


def certified(*dates: str) -> Any:
    """A station whose global has certificates of these dates."""
    several = [invented.certificate("global_1", certificate=f"NC-{d}", date=d) for d in dates]
    every = [
        invented.instrument(p, *(several if p == "global_1" else ())) for p in invented.SENSITIVITY
    ]
    return invented.station_config(instruments=every)


def test_certificates_that_bear_on_the_period() -> None:
    """The one in force, and where sensitivities are interpolated the next one; no others."""
    config = certified("2029-01-01", "2030-06-01", "2032-06-01", "2034-06-01")
    mine = [
        [
            r["certificate"]
            for r in calibration_rows(config, START, END, CalibrateSettings(policy=policy))
            if r["certified_serial_number"] == "NR-global_1"
        ]
        for policy in ("interpolated", "latest_before")
    ]
    assert mine == [["NC-2030-06-01", "NC-2032-06-01"], ["NC-2030-06-01"]]


def test_a_certificate_within_the_period() -> None:
    """Both it and the one before hold for a part, each once."""
    config = certified("2030-06-01", "2031-03-10")
    every = calibration_rows(config, START, END, CalibrateSettings())
    rows = [r for r in every if r["certified_serial_number"] == "NR-global_1"]
    assert [r["certificate"] for r in rows] == ["NC-2030-06-01", "NC-2031-03-10"]
    assert len(every) == len({r["certificate"] for r in every}) == 5
    assert rows[0]["sensitivity"] == invented.SENSITIVITY["global_1"]
    assert math.isnan(rows[0]["sensitivity_as_found"])


def test_inputs_that_signals_pass_in_the_period() -> None:
    """Multiplexer and logger with the certificates in force, and whose signal passes them."""
    config = signal_ways.station(signal_ways.LOGGER, signal_ways.BOX, entries=[signal_ways.UP])
    rows = input_rows(config, START, END)
    told = [(r["input_certificate"], r["input_place"], r["input_positions"]) for r in rows]
    assert told == [
        ("NR-MX-1-2030-01-01", "box", "global_1"),
        ("NR-LG-1-2031-02-01", "main", "global_1"),
    ]
    assert (rows[1]["input_gain"], rows[1]["input_zero"]) == (1.002, 3.0)
    assert rows[1]["input_gain_expanded_uncertainty"] == 0.02
    earlier = input_rows(config, int(parse_utc("2031-01-01")), START)
    assert [r["input_certificate"] for r in earlier][1:] == [
        "NR-LG-1-2030-01-01",
        "NR-LG-1-2031-02-01",
    ]


def test_no_way_no_row() -> None:
    """A station that does not say what its signals pass has no such certificates."""
    assert input_rows(invented.station_config(), START, END) == []
