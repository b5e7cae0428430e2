"""The look command: words as comments, YAML, exit codes."""

from __future__ import annotations

from pathlib import Path

from typer.testing import CliRunner, Result

import raw_tables
from sunledger.cli import app
from sunledger.config.yaml_text import parse_text


def call(*words: str) -> Result:
    """The command line, as a person calls it."""
    return CliRunner().invoke(app, ["look", *words])


def test_the_output_is_a_file_to_start_from(tmp_path: Path) -> None:
    """As a whole it is YAML, with what was found as comments."""
    lines = ["stamp,a,b", *(f"2031-03-08 00:{i:02},{i}.5,2" for i in range(30))]
    raw_tables.stored(tmp_path, "x/day_1.txt", raw_tables.joined(lines))
    result = call(str(tmp_path / "x" / "day_1.txt"), "--root", str(tmp_path))
    assert result.exit_code == 0, result.output
    assert "# x/day_1.txt: 30 rows read, 0 lines rejected" in result.output
    assert "#   labels from 2031-03-08T00:00:00 to 2031-03-08T00:29:00" in result.output
    parsed = parse_text(result.output, "x")
    assert parsed.faults == ()
    assert parsed.data["loggers"]["logger_1"]["files"] == ["x/day_*.txt"]


def test_what_cannot_be_read(tmp_path: Path) -> None:
    """One line, exit 1, no traceback."""
    raw = raw_tables.stored(tmp_path, "a.txt", b"words\n")
    assert call(str(raw.path)).exit_code == 1
    assert "nothing that looks like rows with a time" in call(str(raw.path)).output
    missing = call(str(tmp_path / "none.txt"))
    assert missing.exit_code == 1
    assert "cannot be opened" in missing.output
    (tmp_path / "inner").mkdir()
    outside = call(str(raw.path), "--root", str(tmp_path / "inner"))
    assert outside.exit_code == 1
    assert "leads outside the raw folder" in outside.output
