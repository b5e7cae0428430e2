"""Command line: parse, call, print, exit code. Nothing is computed here."""

from __future__ import annotations

import gc
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sunledger import (
    cli_archive,
    cli_budget,
    cli_campaign,
    cli_look,
    cli_report,
    cli_review,
    cli_visit,
)

if TYPE_CHECKING:
    from sunledger.run.job import Choice, Job
    from sunledger.run.publish import Outcome

DONE, SOME_FAILED, BAD_CONFIGURATION = 0, 1, 2
INTERRUPTED = 130  # as shells have it for what was stopped from the keyboard

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="From solar radiation logger voltages to a traceable CF NetCDF archive.",
)

WorkflowFile = Annotated[Path, typer.Argument(metavar="WORKFLOW", help="Run plan in YAML.")]
Months = Annotated[str | None, typer.Option(help="Months to make, such as 2031-03..2031-05.")]
Stations = Annotated[list[str] | None, typer.Option("--station", help="Only this station; repeat.")]
Workers = Annotated[
    int | None, typer.Option(min=1, help="Worker processes; default: by the number of cores.")
]
Scheduler = Annotated[str | None, typer.Option(help="Existing Dask scheduler, tcp://host:port.")]
Archive = Annotated[Path | None, typer.Option(help="Another archive folder, for a trial.")]
Debug = Annotated[bool, typer.Option("--debug", help="Show the traceback of an error.")]


def _choice(
    months: str | None,
    station: list[str] | None,
    workers: int | None = None,
    scheduler: str | None = None,
    archive: Path | None = None,
) -> Choice:
    from pydantic import ValidationError

    from sunledger.config.models.workflow import MonthRange
    from sunledger.run.job import Choice

    chosen = None
    if months is not None:
        first, _, last = months.partition("..")
        try:
            chosen = MonthRange(first=first, last=last or first)
        except ValidationError:
            raise typer.BadParameter(
                f"must be YYYY-MM or YYYY-MM..YYYY-MM (got {months!r})", param_hint="--months"
            ) from None
    return Choice(chosen, tuple(station or ()), workers, scheduler, archive)


def _stop(error: Exception, code: int, debug: bool) -> typer.Exit:
    """Print an expected error in its own words; with --debug, its traceback."""
    if debug:
        raise error
    typer.echo(str(error), err=True)
    return typer.Exit(code)


def _warn(job_warnings: tuple[object, ...]) -> None:
    for warning in job_warnings:
        typer.echo(str(warning), err=True)


@app.command()
def check(workflow: WorkflowFile, debug: Debug = False) -> None:
    """Check a workflow, all configuration it names, and which raw files there are by name."""
    from sunledger.errors import ConfigError
    from sunledger.run.job import check as check_job
    from sunledger.run.rawcheck import file_warnings

    try:
        loaded, warnings = check_job(workflow)
    except ConfigError as error:
        raise _stop(error, BAD_CONFIGURATION, debug) from error
    warnings += tuple(file_warnings(loaded))
    _warn(warnings)
    names = ", ".join(f"{s.station.name} ({s.station.id})" for s in loaded.stations)
    typer.echo(f"{workflow}: no error, {len(warnings)} warnings; stations: {names}")


@app.command()
def plan(
    workflow: WorkflowFile,
    months: Months = None,
    station: Stations = None,
    archive: Archive = None,
    as_json: Annotated[bool, typer.Option("--json", help="As JSON.")] = False,
    debug: Debug = False,
) -> None:
    """Say what a run would make, and why."""
    from sunledger.errors import ConfigError, SunledgerError
    from sunledger.run.job import prepare

    try:
        job = prepare(workflow, _choice(months, station, archive=archive))
    except ConfigError as error:
        raise _stop(error, BAD_CONFIGURATION, debug) from error
    except SunledgerError as error:
        raise _stop(error, SOME_FAILED, debug) from error
    if as_json:
        rows = [{"unit": u.name, "reasons": u.reasons} for u in job.plan.stale()]
        plain = {"stale": rows, "empty": job.plan.empty, "remarks": job.plan.remarks}
        typer.echo(json.dumps(plain, indent=1))
        return
    _tell_plan(job)


def _tell_plan(job: Job) -> None:
    stale = job.plan.stale()
    for unit in stale:
        typer.echo(f"{unit.name}: {'; '.join(unit.reasons)}")
    for name in job.plan.empty:
        typer.echo(f"{name}: no raw file for this month")
    for remark in job.plan.remarks:
        typer.echo(remark)
    typer.echo(f"{len(stale)} of {len(job.plan.units)} files to make")


@app.command()
def run(  # noqa: PLR0913 - one parameter an option
    workflow: WorkflowFile,
    months: Months = None,
    station: Stations = None,
    workers: Workers = None,
    scheduler: Scheduler = None,
    archive: Archive = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Check and plan only; nothing is written.")
    ] = False,
    debug: Debug = False,
) -> None:
    """Make everything that is stale, and say what came out."""
    from sunledger.errors import ConfigError, SunledgerError
    from sunledger.run.summary import summary

    choice = _choice(months, station, workers, scheduler, archive)
    try:
        if dry_run:
            _dry_run(workflow, choice)
            return
        job, outcomes = _run(workflow, choice)
    except KeyboardInterrupt:
        typer.echo("Stopped; nothing partial is left, and the next run goes on from here", err=True)
        raise typer.Exit(INTERRUPTED) from None
    except ConfigError as error:
        raise _stop(error, BAD_CONFIGURATION, debug) from error
    except SunledgerError as error:
        raise _stop(error, SOME_FAILED, debug) from error
    _warn(job.warnings)
    for line in summary(job, outcomes):
        typer.echo(line)
    raise typer.Exit(_code(job, outcomes))


def _run(workflow: Path, choice: Choice) -> tuple[Job, list[Outcome]]:
    import signal

    from sunledger.run.job import run as run_job
    from sunledger.run.progress import progress_of

    asked = []

    def stop(number: int, _: object) -> None:
        asked.append(number)
        raise KeyboardInterrupt

    def told(outcome: Outcome, done: int, total: int) -> None:
        tell(outcome, done, total)
        # a library may have taken what was raised for a failure of its own; else it is on its way
        if asked and not isinstance(sys.exc_info()[1], KeyboardInterrupt):
            raise KeyboardInterrupt

    # a batch system ends a job by SIGTERM: it is to leave nothing partial either; where Ctrl-C is
    # ignored, as behind `nohup`, it stays so
    signals = [signal.SIGTERM]
    signals += [signal.SIGINT] * (signal.getsignal(signal.SIGINT) is signal.default_int_handler)
    before = {number: signal.signal(number, stop) for number in signals}
    try:
        with progress_of() as tell:
            return run_job(workflow, choice, told, tell.planned)
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _unraisable(what: sys.UnraisableHookArgs) -> None:
    """Ctrl-C that also reaches what is being cleared away is no fault whose traceback is wanted."""
    if not isinstance(what.exc_value, KeyboardInterrupt):
        sys.__unraisablehook__(what)


def _dry_run(workflow: Path, choice: Choice) -> None:
    from dataclasses import replace

    from sunledger.run.job import prepare
    from sunledger.run.tally import tally_of

    job = prepare(workflow, replace(choice, dry=True))
    _warn(job.warnings)
    _tell_plan(job)
    for line in tally_of(job.plan.stale(), job.workers).lines():
        typer.echo(line)
    for problem in job.raw_problems:
        typer.echo(f"Raw file {problem}")


def _code(job: Job, outcomes: list[Outcome]) -> int:
    return SOME_FAILED if any(o.done == "failed" for o in outcomes) else DONE


cli_look.register(app)
cli_budget.register(app)
cli_campaign.register(app)
cli_review.register(app)
cli_visit.register(app)
cli_report.register(app)
cli_archive.register(app)  # behind the commands that make the archive


def main() -> None:
    """Start the command line."""
    sys.unraisablehook = _unraisable
    try:
        app()
    finally:
        # the process ends: looking through all it ever imported for garbage takes a second
        gc.freeze()


if __name__ == "__main__":
    main()
