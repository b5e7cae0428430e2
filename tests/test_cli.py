"""The command line: exit codes, texts, where they go; what is computed is tested elsewhere."""

from __future__ import annotations

import contextlib
import json
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

import pretended
import small_project
from small_project import edit, note
from sunledger import cli
from sunledger.cli import app
from sunledger.errors import ConfigError
from sunledger.run.job import Choice
from sunledger.run.lock import archive_lock
from sunledger.run.publish import Outcome


@pytest.fixture(scope="module")
def long_made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A project of two months, as if it had been run once; not to be changed."""
    folder = tmp_path_factory.mktemp("cli") / "project"
    workflow = small_project.write_project(folder, ["2031-05-10", "2031-07-10"], minutes=60)
    pretended.pretend(workflow)
    return workflow


@pytest.fixture
def project(long_made: Path, tmp_path: Path) -> Path:
    """A copy of that project."""
    return small_project.copy_of(long_made, tmp_path / "project")


def call(*words: object) -> Result:
    """Call the command line as a person does."""
    return CliRunner().invoke(app, [str(w) for w in words])


def test_check_counts_and_names(project: Path) -> None:
    """Exit 0; stations on stdout, what a careful colleague would remark on stderr."""
    result = call("check", project)
    assert result.exit_code == 0
    assert "no error, " in result.stdout
    assert "Test Ridge (invented) (tst)" in result.stdout
    remarks = [line for line in result.stderr.splitlines() if ": warning: " in line]
    assert f"{len(remarks)} warnings" in result.stdout
    assert len(remarks) > 3
    assert "warning:" not in result.stdout


def test_check_opens_no_data(project: Path) -> None:
    """The archive is not touched either."""
    (project.parent / "raw" / "main_20310510.csv").chmod(0)
    before = small_project.mtimes(project.parent)
    assert call("check", project).exit_code == 0
    assert small_project.mtimes(project.parent) == before


def test_plan_of_a_fresh_archive(project: Path) -> None:
    """Nothing to make."""
    result = call("plan", project)
    assert result.exit_code == 0
    assert result.stdout.splitlines() == ["0 of 9 files to make"]


def test_plan_says_what_and_why(project: Path) -> None:
    """One line a file, then the empty months, then the count."""
    note(project, small_project.cleaning("cl-2", "2031-05-20"))
    result = call("plan", project, "--months", "2031-04..2031-05")
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert "tst voltage main 2031-05: history.event: new cl-2 cleaning" in lines
    assert lines[-2:] == ["tst 2031-04: no raw file for this month", "6 of 6 files to make"]


def test_plan_as_json(project: Path) -> None:
    """The same for scripts."""
    note(project, small_project.cleaning("cl-2", "2031-05-20"))
    plain = json.loads(call("plan", project, "--json", "--months", "2031-04..2031-05").stdout)
    assert plain["empty"] == ["tst 2031-04"]
    assert plain["remarks"] == []
    assert {"unit", "reasons"} == plain["stale"][0].keys()
    units = [row["unit"] for row in plain["stale"]]
    assert units[:3] == [
        "tst voltage main 2031-05",
        "tst voltage beam 2031-05",
        "tst minute 2031-05",
    ]


def test_another_archive_for_a_trial(project: Path, tmp_path: Path) -> None:
    """Everything would be made there, and the workflow's own archive is not touched."""
    result = call("plan", project, "--archive", tmp_path / "trial")
    assert "9 of 9 files to make" in result.stdout
    assert "0 of 9 files to make" in call("plan", project).stdout


def test_run_with_nothing_to_do(project: Path) -> None:
    """Exit 0 and the account of what is there."""
    result = call("run", project)
    assert result.exit_code == 0, result.output
    assert "Files: 9 unchanged; archive:" in result.stdout


def test_run_makes_voltages_only(tmp_path: Path) -> None:
    """A real run: exit 0, files named on stdout, progress and warnings on stderr."""
    workflow = small_project.write_project(
        tmp_path / "p", ["2031-05-10"], minutes=60, stages=["ingest"]
    )
    result = call("run", workflow)
    assert result.exit_code == 0, result.output
    assert "1/2 tst voltage main 2031-05: written; about " in result.stderr
    assert ": warning: " in result.stderr
    assert "2/2" not in result.stdout
    assert "120 data lines: 120 kept, 0 repeated, 0 conflicting, 0 rejected" in result.stdout
    assert "tst_voltage_beam_2031-05.nc (version 1, provisional)" in result.stdout


def test_some_units_failed(project: Path) -> None:
    """Exit 1; each is named with its cause, and nobody sees a traceback."""
    edit(project, "processing", lambda p: p.update(qc_flag={"stuck": {"least_irradiance": 8}}))
    # the voltages of this archive are empty files, so that the minutes cannot be made
    result = call("run", project, "--months", "2031-05..2031-05")
    assert result.exit_code == 1
    assert "Failed: tst minute 2031-05: " in result.stdout
    assert "tst_voltage_main_2031-05.nc" in result.stdout
    assert "Failed: tst daily 2031: not made: tst minute 2031-05 failed" in result.stdout
    assert "Traceback" not in result.output


def test_a_held_archive(project: Path) -> None:
    """Exit 1, one line on stderr, nothing on stdout."""
    with archive_lock(project.parent / "archive"):
        result = call("run", project)
    assert result.exit_code == 1
    assert "another run holds it (process " in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
    assert result.stdout == ""


@pytest.mark.parametrize("command", ["check", "plan", "run"])
def test_bad_configuration(project: Path, command: str) -> None:
    """Exit 2; file, line and field on stderr; with --debug the exception itself."""
    edit(project, "station/station", lambda s: s.update(latitude=95.0))
    result = call(command, project)
    assert result.exit_code == 2
    assert "station.yaml:" in result.stderr
    assert "latitude" in result.stderr
    assert result.stdout == ""
    assert "Traceback" not in result.output
    debugged = call(command, project, "--debug")
    assert isinstance(debugged.exception, ConfigError)


@pytest.mark.parametrize("command", ["check", "plan", "run"])
def test_no_such_workflow(tmp_path: Path, command: str) -> None:
    """Exit 2, named."""
    result = call(command, tmp_path / "nowhere.yaml")
    assert result.exit_code == 2
    assert "nowhere.yaml" in result.stderr
    assert isinstance(result.exception, SystemExit)


@pytest.mark.parametrize("months", ["2031", "2031-13", "2031-5", "x", "2031-06..2031-05", ".."])
@pytest.mark.parametrize("command", ["plan", "run"])
def test_bad_months(project: Path, command: str, months: str) -> None:
    """Exit 2; what is allowed and what was given."""
    result = call(command, project, "--months", months)
    assert result.exit_code == 2
    said = " ".join(result.stderr.replace("│", " ").split())
    assert "YYYY-MM" in said
    assert months in said


def test_an_unknown_station(project: Path) -> None:
    """Exit 2; the known ones are listed."""
    result = call("run", project, "--station", "xyz")
    assert result.exit_code == 2
    assert "no such station; allowed: tst (got xyz)" in result.stderr


@pytest.mark.parametrize("words", [["--workers", "0"], ["--nonsense"], []])
def test_bad_usage(project: Path, words: list[str]) -> None:
    """Exit 2 for what no command takes."""
    assert call("run", *words, *([project] if words else [])).exit_code == 2


def test_one_month_or_several(project: Path) -> None:
    """A single month stands for itself."""
    assert "empty" not in call("plan", project, "--months", "2031-05").stdout
    assert "0 of 6 files to make" in call("plan", project, "--months", "2031-05").stdout


def test_help_names_the_commands() -> None:
    """Without a command the help is shown; every command explains its options."""
    result = call("--help")
    assert result.exit_code == 0
    for command in ("check", "plan", "run"):
        assert command in result.stdout
        assert "WORKFLOW" in call(command, "--help").stdout


def test_a_dry_run_writes_nothing(tmp_path: Path) -> None:
    """The plan by station and stage; not even the bookkeeping is begun."""
    workflow = small_project.write_project(tmp_path / "p", ["2031-05-10"], minutes=60)
    result = call("run", workflow, "--dry-run")
    assert result.exit_code == 0
    assert "tst minute 2031-05: no such file yet" in result.stdout
    assert result.stdout.splitlines()[-1] == "tst: ingest 0/2, minutes 0/1, means 0/3"
    assert not (tmp_path / "p" / "archive").exists()


def test_ctrl_c_during_clearing_away_prints_no_traceback(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The reader of raw files is closed when its user is interrupted, and may meet it as well."""

    def closing(error: BaseException) -> Iterator[None]:
        try:
            yield
        finally:
            raise error

    monkeypatch.setattr(sys, "unraisablehook", cli._unraisable)
    for error in (KeyboardInterrupt(), ValueError("a fault")):
        next(generator := closing(error))
        del generator
    said = capsys.readouterr().err
    assert "KeyboardInterrupt" not in said
    assert "ValueError: a fault" in said


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_request_to_end_that_a_library_swallows_ends_the_run_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: signal.Signals
) -> None:
    """After the unit that is under way; the ways in which the process met signals come back."""
    before = [signal.getsignal(n) for n in (signal.SIGINT, signal.SIGTERM)]
    seen: list[int] = []

    def making(_: object, __: object, tell: Callable[..., None], ___: object) -> None:
        for done in range(3):
            with contextlib.suppress(BaseException):  # as libraries do
                signal.raise_signal(number)
            seen.append(done)
            tell(Outcome("u", "written"), done + 1, 3)

    monkeypatch.setattr("sunledger.run.job.run", making)
    with pytest.raises(KeyboardInterrupt):
        cli._run(tmp_path / "workflow.yaml", Choice())
    assert seen == [0]
    assert [signal.getsignal(n) for n in (signal.SIGINT, signal.SIGTERM)] == before


def test_what_is_finished_while_a_run_ends_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that is brought in after Ctrl-C is no reason to stop telling of the others."""
    seen: list[int] = []

    def making(_: object, __: object, tell: Callable[..., None], ___: object) -> None:
        try:
            signal.raise_signal(signal.SIGINT)
        finally:
            for done in range(3):
                tell(Outcome("u", "written"), done + 1, 3)
                seen.append(done)

    monkeypatch.setattr("sunledger.run.job.run", making)
    with pytest.raises(KeyboardInterrupt):
        cli._run(tmp_path / "workflow.yaml", Choice())
    assert seen == [0, 1, 2]
