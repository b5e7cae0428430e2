"""Errors: what a person reads, and that a worker process can send them home."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from sunledger.errors import ArchiveError, ConfigError, Fault, RawFileError, SunledgerError

FAULT = Fault("station.yaml", 5, "loggers.main.interval", "must be at least 1; (got 0)")

ERRORS = [
    ConfigError([FAULT, Fault("station.yaml", 2, "id", "must be a text (got 3)", "warning")]),
    RawFileError("main.csv.gz", 17, "expected 9 fields, found 3: '2031-03-25,1'"),
    RawFileError(Path("main.csv.gz"), 0, "not a text"),
    ArchiveError("osr_minute_2031-03.nc: altered since it was made"),
]


def test_fault_prints_file_line_field_and_reason() -> None:
    """`file:line: field: what is wrong`."""
    assert str(FAULT) == "station.yaml:5: loggers.main.interval: must be at least 1; (got 0)"


def test_fault_of_a_whole_file_has_no_line() -> None:
    """Line 0 stands for the whole file, and an empty field for no entry in particular."""
    assert str(Fault("review.yaml", 0, "", "no such file")) == "review.yaml: no such file"


@pytest.mark.parametrize("field", ["", "id"])
def test_a_warning_says_so(field: str) -> None:
    """An error needs no mark; a warning has one."""
    fault = Fault("a.yaml", 1, field, "unusual", "warning")
    assert str(fault) == "a.yaml:1: warning: " + (f"{field}: " if field else "") + "unusual"


def test_config_error_lists_every_fault_in_order() -> None:
    """By file and line, not in the order of finding; line 10 comes after line 9."""
    faults = [
        Fault("b.yaml", 1, "x", "w"),
        Fault("a.yaml", 10, "x", "w"),
        Fault("a.yaml", 9, "", "w"),
    ]
    assert str(ConfigError(faults)) == "a.yaml:9: w\na.yaml:10: x: w\nb.yaml:1: x: w"


def test_raw_file_error_names_file_and_line() -> None:
    """With the line where there is one."""
    assert str(ERRORS[1]).startswith("main.csv.gz:17: expected 9 fields")
    assert str(ERRORS[2]) == "main.csv.gz: not a text"


@pytest.mark.parametrize("error", ERRORS, ids=lambda e: type(e).__name__)
def test_errors_survive_pickling(error: SunledgerError) -> None:
    """Text, type and attributes come back whole from another process."""
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is type(error)
    assert str(again) == str(error)
    assert vars(again) == vars(error)


@pytest.mark.parametrize("error", ERRORS, ids=lambda e: type(e).__name__)
def test_every_expected_error_has_one_base(error: SunledgerError) -> None:
    """The command line catches the base and prints no traceback."""
    assert isinstance(error, SunledgerError)
    assert not isinstance(error, ValueError)
