"""What a setting would change: a run beside the archive, and the comparison of both."""

from __future__ import annotations

from pathlib import Path

from typer.testing import CliRunner

import small_project
from sunledger.cli import app


def call(*words: object) -> tuple[int, str]:
    """Exit code, and all that was printed."""
    result = CliRunner().invoke(app, [str(w) for w in words])
    return result.exit_code, result.output


def test_a_trial(project: Path, tmp_path: Path) -> None:
    """The changed words are told by quantity, values stay; the archive is not touched.

    With a level tolerance below what the check of February found, the time before it is in doubt.
    """
    archive, other = project.parent / "archive", tmp_path / "trial"
    before = small_project.mtimes(archive)
    assert call("run", project, "--archive", other)[0] == 0
    code, said = call("compare", archive, other)
    assert code == 0, said
    small_project.note(project, small_project.level("lc-bad", "2031-07-20", 0.1))
    small_project.edit(project, "processing", lambda p: p["calibrate"].update(level_tolerance=0.08))
    assert call("run", project, "--archive", other)[0] == 0
    code, said = call("compare", archive, other)
    assert code == 1
    assert "tst_minute_2031-06.nc" in said
    assert "level_doubtful" in said or "ghi_conditions" in said
    assert small_project.mtimes(archive) == before
