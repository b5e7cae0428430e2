"""The commands for visits: exit codes and text."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sunledger.cli import app
from visit_forms import LEVEL, write_checklist, write_form


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    """A copy of the sound workflow's folder, with a checklist."""
    source = Path(__file__).parent / "bad_configs" / "sound"
    folder = Path(shutil.copytree(source, tmp_path / "sound"))
    write_checklist(folder / "station")
    return folder


def call(*words: object) -> tuple[int, str]:
    """Exit code and text without line breaks of a command."""
    result = CliRunner().invoke(app, [str(w) for w in words])
    return result.exit_code, result.output


def test_sheet_and_templates_are_written(sound: Path, tmp_path: Path) -> None:
    workflow = sound / "workflow.yaml"
    for words, name in (
        (("sheet",), "pages/sheet.html"),
        (("template",), "v.yaml"),
        (("template", "--csv"), "v.csv"),
    ):
        path = tmp_path / name
        code, text = call("visit", *words, workflow, "tst", "-o", path)
        assert (code, path.is_file()) == (0, True), text
        assert "bytes" in text


def test_papers_are_written(sound: Path, tmp_path: Path) -> None:
    code, text = call("visit", "papers", sound / "workflow.yaml", tmp_path / "papers")
    assert (code, "visit_sheet.html" in text) == (0, True)
    (sound / "station" / "checklist.yaml").unlink()
    code, text = call("visit", "papers", sound / "workflow.yaml", tmp_path / "papers")
    assert (code, text.strip()) == (0, "tst: no checklist, no sheet")


def test_a_form_is_entered(sound: Path) -> None:
    form = write_form(sound / "v.yaml", LEVEL)
    code, text = call("fieldlog", "add", form, sound / "workflow.yaml")
    assert code == 0
    assert "2 entries appended, tst-20310215-01 to tst-20310215-02" in text


def test_refusals_have_their_own_code(sound: Path) -> None:
    """One line a fault; with --debug the traceback."""
    form = write_form(sound / "v.yaml", LEVEL | {"found": 99})
    code, text = call("fieldlog", "add", form, sound / "workflow.yaml")
    assert (code, "must be at most 45" in text) == (2, True)
    code, text = call("visit", "sheet", sound / "workflow.yaml", "nowhere")
    assert (code, "no such station" in text) == (2, True)
    result = CliRunner().invoke(
        app, ["visit", "sheet", str(sound / "workflow.yaml"), "nowhere", "--debug"]
    )
    assert type(result.exception).__name__ == "SunledgerError"
