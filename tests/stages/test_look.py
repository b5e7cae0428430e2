"""What an unknown file seems to be: the YAML printed must read the file it was made from."""

from __future__ import annotations

import gzip
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import raw_tables
from sunledger.config.models.station import Logger
from sunledger.config.yaml_text import parse_text
from sunledger.errors import RawFileError
from sunledger.stages import look as looking
from sunledger.stages.look import fitting_interval, look, look_lines, look_yaml
from sunledger.stages.rawfiles import FileReadings, read_file
from sunledger.stages.streams import RawFile

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_raw" / "raw"
ALL = (-(2**40), 2**40)
LABELS = raw_tables.MARCH + 15 * 86400 + 60 * np.arange(100)
VALUES = np.round(np.random.default_rng(3).normal(100, 9, (100, 2)), 3)


def _loaded(text: str) -> Logger:
    """The logger of the printed YAML, as a station's file is loaded."""
    parsed = parse_text(text, "station.yaml")
    assert parsed.faults == ()
    (plain,) = parsed.data["loggers"].values()
    return Logger.model_validate_json(json.dumps(plain), strict=True)


def _round_trip(root: Path, name: str) -> tuple[Logger, FileReadings, list[str]]:
    seen = look(RawFile(root / name, name))
    logger = _loaded(look_yaml(seen))
    return logger, read_file(RawFile(root / name, name), logger, *ALL), look_lines(seen)


@pytest.mark.parametrize(
    ("name", "separator", "quote", "columns", "header"),
    [
        ("ossel_ridge/main_20310325.csv.gz", "comma", None, 14, ("names",)),
        (
            "karru_pan/field_20310410.csv.gz", "semicolon", '"', 23,
            ("file", "names", "units", "statistics"),
        ),
    ],
)  # fmt: skip
def test_both_layouts_of_the_sample(
    name: str, separator: str, quote: str | None, columns: int, header: tuple[str, ...]
) -> None:
    """Every line is read, every value is that of the station's own configuration."""
    logger, found, lines = _round_trip(SAMPLE, name)
    layout = logger.layouts[0]
    assert (layout.separator, layout.quote, layout.header) == (separator, quote, header)
    assert (len(logger.channels), logger.interval) == (columns, 60)
    assert len(found.label) == found.data_lines == 1440
    assert f"{name}: 1,440 rows read, 0 lines rejected" in lines[0]
    text = gzip.decompress((SAMPLE / name).read_bytes()).decode().splitlines()
    mark = "," if separator == "comma" else ";"
    last = [float(field) for field in text[-1].split(mark)[-columns:]]
    assert [found.values[c.name][-1] for c in logger.channels] == last


def _lines(form: str, mark: str, header: list[str], comma: bool = False) -> list[str]:
    rows = [
        mark.join([raw_tables.written(t, form), *(f"{v:.3f}" for v in row)])
        for t, row in zip(LABELS, VALUES, strict=True)
    ]
    return header + [row.replace(".", ",") if comma else row for row in rows]


ISO = "%Y-%m-%dT%H:%M:%S+02:00"
LAYOUTS: dict[str, tuple[list[str], dict[str, Any]]] = {
    "plain": (_lines("%Y-%m-%d %H:%M", ",", ["stamp,a,b"]), {"separator": "comma"}),
    "decimal comma": (
        _lines("%d/%m/%Y %H:%M", ";", ["stamp;a;b"], comma=True),
        {"separator": "semicolon", "decimal": "comma"},
    ),
    "tab": (_lines("%Y-%m-%d\t%H:%M:%S", "\t", ["day\tclock\ta\tb"]), {"separator": "tab"}),
    "blanks": (_lines("%Y  %j %H%M", "   ", ["y  doy hm  a b"]), {"separator": "blanks"}),
    "epoch": ([f"{t},{a},{b}" for t, (a, b) in zip(LABELS, VALUES, strict=True)], {"header": ()}),
    "iso": (_lines(ISO, ",", ["# made by nobody", "when,a,b"]), {"comment": "#"}),
    "quoted": (_lines('"%Y-%m-%d %H:%M"', ",", ['"stamp","a","b"']), {"quote": '"'}),
    "closed": ([f"{r}," for r in _lines("%Y-%m-%d %H:%M", ",", ["stamp,a,b"])], {}),
    "title": (
        _lines("%Y-%m-%d %H:%M", ",", ["logger NL-1", "stamp,a,b", "-,mV,W", ",mean,max"]),
        {"header": ("file", "names", "units", "statistics")},
    ),
    "american": (_lines("%m/%d/%Y %I:%M %p", ",", ["stamp,a,b"]), {}),
    "codes": (
        [x for row in _lines("%Y,%j,%H%M", ",", []) for x in (f"101,{row}", "7,12.5")],
        {"record_code": "101", "header": ()},
    ),
}


@pytest.mark.parametrize("name", LAYOUTS)
def test_the_yaml_reads_the_file(tmp_path: Path, name: str) -> None:
    """Labels and values come back, whatever the writing."""
    lines, traits = LAYOUTS[name]
    raw_tables.stored(tmp_path, "day_20310323.txt", raw_tables.joined(lines))
    logger, found, _ = _round_trip(tmp_path, "day_20310323.txt")
    for trait, value in traits.items():
        assert getattr(logger.layouts[0], trait) == value
    assert found.data_lines == 100
    shift = -2 * 3600 if name == "iso" else 0
    np.testing.assert_array_equal(found.label, LABELS + shift)
    columns = [found.values[c.name] for c in logger.channels][-2:]
    np.testing.assert_array_equal(np.array(columns).T, VALUES)
    assert logger.interval == 60
    assert logger.files == ("day_*.txt",)


def test_tokens_gaps_and_damage_are_said(tmp_path: Path) -> None:
    """Missing share, over-range words, gaps, steps back, rejected lines."""
    lines = _lines("%Y-%m-%d %H:%M", ",", ["stamp,a,b"])
    for row in (10, 11):
        lines[row] = lines[row][:16] + ",NAN,-9999.0"
    lines[20] = lines[20][:16] + ",OVER,1"
    del lines[40:50]
    lines[60:60] = lines[50:53]
    lines[70] = "garbled"
    raw_tables.stored(tmp_path, "a.txt", raw_tables.joined(lines))
    logger, found, said = _round_trip(tmp_path, "a.txt")
    assert logger.layouts[0].missing == ("", "-9999.0", "NAN")
    assert logger.layouts[0].over_range == ("OVER",)
    assert np.isnan(found.values["a"]).sum() == np.isnan(found.values["b"]).sum() == 2
    text = "\n".join(said)
    assert "92 rows read, 1 lines rejected" in text
    assert "3 gaps, the longest of 660 s" in text
    assert "labels run backwards 1 times" in text
    assert "a: 2.17% missing" in text
    assert "line 71 rejected: 1 fields where 3 are expected" in text
    assert "interval 60 s" in text


def test_only_the_beginning_is_guessed_from(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The rest is read in pieces: a large file is no matter."""
    monkeypatch.setattr(looking, "SAMPLE_BYTES", 2000)
    lines = _lines("%Y-%m-%d %H:%M", ",", ["stamp,a,b"])
    lines[90] = "2031-03-23 01:29,late,1"
    raw_tables.stored(tmp_path, "a.txt", raw_tables.joined(lines))
    _, found, said = _round_trip(tmp_path, "a.txt")
    assert len(found.label) == 99
    assert "line 91 rejected: column a: not a number: 'late'" in said[-1]


def test_names_that_the_configuration_does_not_take(tmp_path: Path) -> None:
    """They become names of its own; twice the same, and none, cannot be told apart."""
    header = ["stamp,Global (mV),global-mv,tracker_mode,2nd,twice,twice"]
    rows = [f"{raw_tables.written(t)},1,2,3,4,5,6" for t in LABELS]
    raw_tables.stored(tmp_path, "a.txt", raw_tables.joined(header + rows))
    logger, _, _ = _round_trip(tmp_path, "a.txt")
    names = {c.column: c.name for c in logger.channels}
    assert names == {
        "Global (mV)": "global_mv", "global-mv": "global_mv_2", "tracker_mode": "tracker_code",
        "2nd": "column_2nd",
    }  # fmt: skip


@pytest.mark.parametrize(
    "data", [b"", b"\n\n", b"just words\nand more words\n", bytes(range(256)) * 40, b"a,b\n1,2\n"]
)
def test_what_is_no_table(tmp_path: Path, data: bytes) -> None:
    """A plain word with the file's name."""
    raw = raw_tables.stored(tmp_path, "a.txt", data)
    with pytest.raises(RawFileError, match=r"a\.txt: nothing that looks like rows with a time"):
        look(raw)


def test_a_time_and_no_numbers(tmp_path: Path) -> None:
    """There is nothing to configure."""
    rows = [f"{raw_tables.written(t)},word" for t in LABELS]
    raw = raw_tables.stored(tmp_path, "a.txt", raw_tables.joined(["stamp,a", *rows]))
    with pytest.raises(RawFileError, match="no column of numbers"):
        look(raw)


@pytest.mark.parametrize(("step", "interval"), [(60, 60), (61, 60), (7, 6), (0, 1), (9999, 3600)])
def test_fitting_intervals(step: int, interval: int) -> None:
    """The nearest that the configuration takes."""
    assert fitting_interval(step) == interval
