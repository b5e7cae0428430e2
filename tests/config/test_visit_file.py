"""Reading visit forms: YAML and CSV say the same, blank rows are left out, lines are kept."""

from __future__ import annotations

from pathlib import Path

import pytest

from sunledger.config.models.base import parse_utc
from sunledger.config.models.visit import LevelRow, WorkRow
from sunledger.config.visit_file import load_visit
from sunledger.errors import ConfigError
from visit_forms import CLEANING, CLOCK, EXCHANGE, LEVEL, write_form

TABLE = """\
type,where,serial_number,time,until,found,found_azimuth,left,after_tightening,tightened,removed,\
installed,installed_at,ventilated,role,note
# a remark
visit,tst,,2031-02-15 08:00,2031-02-15 10:00,,,,,,,,,,technician,
level_check,global_1,GL-01,08:10,,0.6,90,0.1,0.05,yes,,,,,,
level_check,diffuse_1,,,,,,,,,,,,,,
cleaning,global_1 diffuse_1,,08:20,,dust,,clean,,,,,,,,
clock_check,main,,08:30,,4,,0,,,,,,,,
exchange,global_1,,09:00,,,,,,,GL-01,GL-02,09:20,TRUE,,to the laboratory
"""


def test_a_table_says_what_yaml_says(tmp_path: Path) -> None:
    """The same form, whatever separates the cells."""
    form, _ = load_visit(write_form(tmp_path / "v.yaml", LEVEL, CLEANING, CLOCK, EXCHANGE))
    for separator in ",;\t":
        text = TABLE.replace(",", separator)
        path = tmp_path / "v.csv"
        path.write_text("\N{ZERO WIDTH NO-BREAK SPACE}" + text, encoding="utf-8")
        assert load_visit(path)[0] == form


def test_rows_left_blank_are_left_out_and_lines_kept(tmp_path: Path) -> None:
    """A row in which only what the template fills in stands was not done."""
    blank = {"type": "level_check", "position": "diffuse_1", "time": "", "found": None}
    form, lines = load_visit(write_form(tmp_path / "v.yaml", blank, CLEANING))
    (row,) = form.entries
    assert isinstance(row, WorkRow)
    assert lines.line("entries", 0, "time") == 4


def test_times_of_day_stand_on_the_day_of_the_visit(tmp_path: Path) -> None:
    """Over midnight, on the day on which they lie within."""
    head = {"from": "2031-02-15 22:00", "until": "2031-02-16 01:00"}
    rows = [LEVEL | {"time": t} for t in ("23:30", "00:30:15")]
    form, _ = load_visit(write_form(tmp_path / "v.yaml", *rows, **head))
    assert [r.time for r in form.entries if isinstance(r, LevelRow)] == [
        parse_utc("2031-02-15 23:30"),
        parse_utc("2031-02-16 00:30:15"),
    ]


@pytest.mark.parametrize(
    ("change", "match"),
    [
        (("0.6,90", '"0,6",90'), r"v\.csv:4: entries\[0\].*found: must be a number \(got '0,6'\)"),
        (("0.6,90", "0.6,400"), r"v\.csv:4: .*found_azimuth: must be less than 360"),
        (("0.6,90", "60,90"), r"v\.csv:4: .*found: must be at most 45"),
        (("08:20", "25:20"), r"v\.csv:6: .*time: must be a UTC time"),
        (("cleaning,", "cleanin,"), r"v\.csv:6: .*type: must be one of .*did you mean 'cleaning'"),
        (("until", "untl"), r"v\.csv:1: untl: unknown column; allowed: type, where"),
        (("until", "where"), r"v\.csv:1: where: this column is given twice"),
        (("type,", "kind,"), r"v\.csv:1: the header line has no column 'type'"),
        (("yes,", "perhaps,"), r"v\.csv:4: .*tightened: must be true or false"),
        (("clean,,,,,,,,", "clean,,,,,,,,,,7"), r"v\.csv:6: more cells than the 16 columns"),
        (("clock_check,main", "visit,main"), r"v\.csv:7: visit: given twice; first on line 3"),
        (("visit,tst", "cable,tst"), r"visit: must be a mapping"),
    ],
)
def test_faults_of_a_table_name_its_line(
    change: tuple[str, str], match: str, tmp_path: Path
) -> None:
    path = tmp_path / "v.csv"
    assert change[0] in TABLE
    path.write_text(TABLE.replace(*change, 1), encoding="utf-8")
    with pytest.raises(ConfigError, match=match):
        load_visit(path)


@pytest.mark.parametrize("name", ["v.csv", "v.yaml"])
def test_a_form_that_is_not_there(name: str, tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=rf"{name}: (No such file|the file does not exist)"):
        load_visit(tmp_path / name)


def test_unquoted_times_are_named(tmp_path: Path) -> None:
    """YAML would read 09:05 as a number to base 60."""
    path = write_form(tmp_path / "v.yaml", CLOCK)
    path.write_text(path.read_text().replace('"08:30"', "08:30"), encoding="utf-8")
    with pytest.raises(ConfigError, match=r"v\.yaml:3: .*would be read as a number to base 60"):
        load_visit(path)


def test_quoted_cells_hold_separators_quotes_and_breaks(tmp_path: Path) -> None:
    """As RFC 4180 (2005), section 2, rules 5 to 7, has it; lines are counted on behind a break."""
    path = tmp_path / "v.csv"
    table = TABLE.replace("to the laboratory", '"to the ""old"" laboratory,\nby hand"')
    rows = table + "cleaning,nowhere at all,,07:99,,dust\n"
    path.write_text(rows.replace("\n", "\r\n"), encoding="utf-8", newline="")
    with pytest.raises(ConfigError, match=r"v\.csv:10: .*time: must be a UTC time") as caught:
        load_visit(path)
    assert len(caught.value.faults) == 1
    path.write_text(table, encoding="utf-8")
    form, _ = load_visit(path)
    assert form.entries[-1].note == 'to the "old" laboratory,\nby hand'  # type: ignore[union-attr]
