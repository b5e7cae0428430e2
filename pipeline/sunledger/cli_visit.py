"""Commands for a visit on site: parse, call, print, exit code. Nothing is computed here."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

REFUSED = 2

fieldlog = typer.Typer(no_args_is_help=True, help="The record of what was done on site.")
visit = typer.Typer(no_args_is_help=True, help="Sheet and form for the next visit on site.")

Workflow = Annotated[Path, typer.Argument(metavar="WORKFLOW", help="Run plan in YAML.")]
Debug = Annotated[bool, typer.Option("--debug", help="Show the traceback of an error.")]


Station = Annotated[str, typer.Argument(metavar="STATION", help="Identifier of the station.")]
Output = Annotated[Path | None, typer.Option("--output", "-o", help="File to write.")]


@fieldlog.callback()
@visit.callback()
def _group() -> None:
    """Commands of their own."""


@contextmanager
def _refused(debug: bool) -> Iterator[None]:
    """An expected error in its own words; with --debug, its traceback."""
    from sunledger.errors import SunledgerError

    try:
        yield
    except SunledgerError as error:
        if debug:
            raise
        typer.echo(str(error), err=True)
        raise typer.Exit(REFUSED) from error


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    typer.echo(f"{path}: {path.stat().st_size:,} bytes")


@visit.command()
def sheet(
    workflow: Workflow,
    station: Station,
    archive: Annotated[Path | None, typer.Option(help="Archive whose findings to show.")] = None,
    output: Output = None,
    debug: Debug = False,
) -> None:
    """Write the printable sheet: cautions, what stands there, findings, blanks to fill in."""
    from sunledger.report.visits import station_sheet

    with _refused(debug):
        html = station_sheet(workflow, station, archive)
        _write(output or Path(f"{station}_visit_sheet.html"), html)


@visit.command()
def template(
    workflow: Workflow,
    station: Station,
    as_table: Annotated[bool, typer.Option("--csv", help="As a table in CSV.")] = False,
    output: Output = None,
    debug: Debug = False,
) -> None:
    """Write the form to fill in, which `sunledger fieldlog add` reads."""
    from sunledger.report.visits import station_form

    with _refused(debug):
        text = station_form(workflow, station, as_table)
        name = f"{station}_visit.{'csv' if as_table else 'yaml'}"
        _write(output or Path(name), text)


@visit.command()
def papers(
    workflow: Workflow,
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A folder a station is made.")],
    archive: Annotated[Path | None, typer.Option(help="Archive whose findings to show.")] = None,
    debug: Debug = False,
) -> None:
    """Write sheet and forms of every station that has a checklist."""
    from sunledger.report.visits import write_visit_papers

    with _refused(debug):
        for name, paths in write_visit_papers(workflow, folder, archive):
            typer.echo(f"{name}: {', '.join(map(str, paths)) or 'no checklist, no sheet'}")


@fieldlog.command()
def add(
    form: Annotated[Path, typer.Argument(metavar="VISIT", help="Filled form, YAML or CSV.")],
    workflow: Workflow,
    debug: Debug = False,
) -> None:
    """Check a filled visit form against the record and append it to the station's field log."""
    from sunledger.run.visiting import add_visit

    with _refused(debug):
        path, ids, warnings = add_visit(form, workflow)
    for warning in warnings:
        typer.echo(str(warning), err=True)
    typer.echo(
        f"{path}: {len(ids)} entries appended, {ids[0]} to {ids[-1]}; the next run uses them"
    )


def register(app: typer.Typer) -> None:
    """
    Add the commands to the command line.

    Parameters
    ----------
    app : typer.Typer
        The command line.
    """
    app.add_typer(visit, name="visit")
    app.add_typer(fieldlog, name="fieldlog")
