"""The command that looks at one raw file: parse, call, print, exit code."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

CANNOT_READ = 1

RawFilePath = Annotated[Path, typer.Argument(metavar="FILE", help="Any raw file of a logger.")]
RawFolder = Annotated[
    Path | None, typer.Option("--root", help="Raw folder; else the folder the file lies in.")
]
Debug = Annotated[bool, typer.Option("--debug", help="Show the traceback of an error.")]


def look(file: RawFilePath, root: RawFolder = None, debug: Debug = False) -> None:
    """Say what a raw file seems to be, and print the YAML to start from."""
    from sunledger.errors import SunledgerError
    from sunledger.run.looking import look_report

    try:
        lines, yaml = look_report(file, root)
    except SunledgerError as error:
        if debug:
            raise
        typer.echo(str(error), err=True)
        raise typer.Exit(CANNOT_READ) from error
    # The words are comments, so that the whole can be kept as a file.
    for line in lines:
        typer.echo(f"# {line}")
    typer.echo(yaml, nl=False)


def register(app: typer.Typer) -> None:
    """
    Add the command to the command line.

    Parameters
    ----------
    app : typer.Typer
        The command line.
    """
    app.command()(look)
