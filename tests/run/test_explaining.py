"""The explanation of a value: all parts, the archive's own numbers, harmless text."""

from __future__ import annotations

import gzip
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from sunledger.cli import app
from sunledger.run.explaining import explain, explanation_text, instant
from sunledger.run.tracing import Trace, trace

TITLES = [
    "Value",
    "Raw line",
    "Time",
    "Reading",
    "Instrument and calibration",
    "Conditions",
    "Flags",
    "Uncertainty",
]

RAW = Path(__file__).parents[2] / "sample_raw" / "raw"


@pytest.fixture(scope="module")
def found(sample_folder: Path) -> Trace:
    """A minute of the global whose level was found wrong later."""
    when = int(np.datetime64("2031-04-11T10:17", "s").astype(int))
    return trace(sample_folder / "build/sample_archive", "osr", "ghi", when)


def test_all_parts(found: Trace, sample_folder: Path) -> None:
    sections = explain(found, RAW)
    assert [s.title for s in sections] == TITLES
    assert all(s.lines for s in sections)
    text = explanation_text(sections)
    for said in (
        "2031-04-11 10:17 UTC",
        "grade 3, questionable",
        "as archived",
        "label as logged 2031-04-11 11:18, which is 2031-04-11 10:17 UTC",
        "between two checks",
        "global_1_mean (column glob_mean): 5.2672 mV",
        "thermopile pyranometer NMR-G-1041, ISO 9060 class A",
        "NMR-C-30-0117 of 2030-06-14",
        "level_doubtful",
        "by osr-041, 2031-04-10 09:10 to 2031-04-24 09:05: found 1.4",
    ):
        assert said in text, said
    assert "NOT as archived" not in text


def test_line_is_that_of_the_raw_file(found: Trace, sample_folder: Path) -> None:
    root = RAW
    place, line = explain(found, root)[1].lines
    name, _, number = place.partition(", line ")
    assert (
        line == gzip.decompress((root / name).read_bytes()).decode().splitlines()[int(number) - 1]
    )


def test_raw_files_that_are_gone_are_said_to_be(found: Trace, tmp_path: Path) -> None:
    assert "is gone" in explain(found, tmp_path)[1].lines[1]
    assert "no folder" in explain(found)[1].lines[1]


def test_a_value_that_does_not_come_again_is_said_so(found: Trace) -> None:
    wrong = replace(found, archived={**found.archived, "ghi": found.archived["ghi"] + 1.0})
    assert "NOT as archived" in explain(wrong)[0].lines[-1]


def test_flag_with_its_numbers(sample_folder: Path) -> None:
    when = int(np.datetime64("2031-04-16T05:02", "s").astype(int))
    tripped = trace(sample_folder / "build/sample_archive", "osr", "ghi", when)
    lines = next(s for s in explain(tripped) if s.title == "Flags").lines
    assert any(line.startswith("components_disagree:") for line in lines)
    assert any(line.startswith("  ratio ") and "allowed 0.85 to 1.15" in line for line in lines)


def test_missing_value(sample_folder: Path) -> None:
    when = int(np.datetime64("2031-04-02T12:54", "s").astype(int))
    missing = trace(sample_folder / "build/sample_archive", "osr", "ghi", when)
    text = explanation_text(explain(missing))
    assert "missing, as archived" in text
    assert "no reading of logger main belongs to this interval" in text


def test_text_of_the_record_is_harmless(found: Trace) -> None:
    tables = {**found.tables, "levelling": dict(found.tables["levelling"])}
    notes = tables["levelling"]["levelling_note"].astype(object)
    notes[:] = "a\x1b[31m\nb"
    tables["levelling"]["levelling_note"] = notes
    text = explanation_text(explain(replace(found, tables=tables)))
    assert "\x1b" not in text
    assert "a [31m b" in text


@pytest.mark.parametrize(
    ("time", "text"),
    [(0, "1970-01-01 00:00"), (61.46, "1970-01-01 00:01:01.5"), (float("nan"), "open")],
)
def test_instants(time: float, text: str) -> None:
    assert instant(time) == text


def test_command(sample_folder: Path, tmp_path: Path) -> None:
    """Also where nothing but the archive is left, in another place."""
    archive = tmp_path / "elsewhere"
    shutil.copytree(sample_folder / "build/sample_archive", archive)
    words = ["explain", str(archive), "kpn", "dhi", "2031-04-20T11:00"]
    result = CliRunner().invoke(app, words)
    assert result.exit_code == 0
    assert [x for x in result.stdout.splitlines() if not x.startswith(" ")] == TITLES
    wrong = CliRunner().invoke(app, [*words[:-1], "noon"])
    assert wrong.exit_code == 2
    assert "TIME: must be a UTC time" in wrong.stderr
