"""CSV gives the archived values again, explains itself, and holds no formula."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from archive.samples import minute_file, voltage_file, with_attributes
from archive.small import SOFTWARE, put, small_archive
from sunledger.archive.changes import Made
from sunledger.archive.export import Window, export_csv
from sunledger.archive.listing import Published, published
from sunledger.archive.specification import FileSpec
from sunledger.errors import ArchiveError


def files(archive: Path, product: str) -> list[Published]:
    """Files of a product."""
    return [f for f in published(archive) if f.manifest.product == product]


def only(folder: Path, spec: FileSpec, product: str = "minute") -> list[Published]:
    """An archive that holds one file."""
    put(folder, spec, Made(product, "2031-03", "", "2031-04-05", SOFTWARE, "x"))
    return list(published(folder))


def test_values_come_back_bit_for_bit(tmp_path: Path) -> None:
    spec = minute_file(days=1)
    rows = export_csv(only(tmp_path / "a", spec), tmp_path / "x.csv")
    table = pd.read_csv(tmp_path / "x.csv", comment="#", parse_dates=["time [UTC]"])
    assert rows == len(table) == 1440
    for name in ("ghi", "ghi_uncertainty", "ghi_std"):
        read = table[f"{name} [W m-2]"].to_numpy(np.float32)
        np.testing.assert_array_equal(read, spec[name].data)
    np.testing.assert_array_equal(table["ghi_grade"], spec["ghi_grade"].data)
    np.testing.assert_array_equal(table["ghi_flags"], spec["ghi_flags"].data)
    assert table["time [UTC]"].iloc[1] == pd.Timestamp("2031-03-01T00:01:00Z")
    assert "ghi_tested" not in table


def test_header_explains_columns_units_grades_files_and_licence(tmp_path: Path) -> None:
    export_csv(files(small_archive(tmp_path / "a"), "minute"), tmp_path / "x.csv")
    text = (tmp_path / "x.csv").read_text(encoding="utf-8")
    header = [line for line in text.splitlines() if line.startswith("#")]
    for words in ("# license: ", "Össel Ridge", "version 2 (provisional)", "1=good", "k = 2"):
        assert any(words in line for line in header), words
    columns = text.splitlines()[len(header)].split(",")
    explained = {line.split(":")[0].removeprefix("# column ") for line in header}
    assert {c.split(" [")[0] for c in columns[1:]} <= explained


def test_no_line_of_the_header_has_a_second_cell(tmp_path: Path) -> None:
    """Behind a comma, a semicolon or a quote a spreadsheet would look for a formula again."""
    evil = 'x,=cmd()|;@SUM(1)"\n=1+1\t-2'
    spec = with_attributes(minute_file(days=1), summary=evil, title=evil)
    export_csv(only(tmp_path / "a", spec), tmp_path / "x.csv")
    header = (tmp_path / "x.csv").read_text(encoding="utf-8").splitlines()
    header = header[: next(i for i, line in enumerate(header) if line.startswith("time [UTC]"))]
    assert all(line.startswith("# ") and not set(line) & set(',;"\t') for line in header)
    assert any("cmd()" in line for line in header)


def test_window_cuts_by_day_and_by_month(tmp_path: Path) -> None:
    minutes = files(small_archive(tmp_path / "a"), "minute")
    target = tmp_path / "x.csv"
    assert export_csv(minutes, target, Window("2031-03-02", "2031-03-02")) == 1440
    assert export_csv(minutes, target, Window("2031-03", "2031-03")) == 2880
    assert export_csv(minutes, target, Window("2031-03-02")) == 1440
    with pytest.raises(ArchiveError, match="no time of the files lies in the window"):
        export_csv(minutes, target, Window("2032-01-01"))
    with pytest.raises(ArchiveError, match=r"dates must be .*got yesterday\.\."):
        export_csv(minutes, target, Window("yesterday"))


def test_voltages_keep_file_order_and_their_own_labels(tmp_path: Path) -> None:
    spec = voltage_file()
    main = tuple(v for v in spec.variables if "reading_beam" not in v.dimensions)
    one = FileSpec(spec.attributes, {"reading_main": 5000}, main, spec.groups)
    export_csv(only(tmp_path / "a", one, "voltage_main"), tmp_path / "x.csv")
    table = pd.read_csv(tmp_path / "x.csv", comment="#")
    stamps = pd.to_datetime(table["logger_time_main [logger clock]"]).astype("int64")
    assert (stamps.diff() < 0).sum() == 1
    np.testing.assert_array_equal(table["global_1 [mV]"], spec["global_1"].data)


def test_one_product_at_a_time(tmp_path: Path) -> None:
    with pytest.raises(ArchiveError, match=r"one product at a time .*got minute, monthly"):
        export_csv(list(published(small_archive(tmp_path / "a"))), tmp_path / "x.csv")
    with pytest.raises(ArchiveError, match="got none"):
        export_csv([], tmp_path / "x.csv")
