"""Commands that make pages for people: parse, call, print, exit code. Nothing is computed here."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

REFUSED = 2

ArchiveFolder = Annotated[Path, typer.Argument(metavar="ARCHIVE", help="Folder of the archive.")]
Month = Annotated[str, typer.Argument(metavar="MONTH", help="Such as 2031-04.")]
Output = Annotated[Path | None, typer.Option("--output", "-o", help="HTML file to write.")]
Debug = Annotated[bool, typer.Option("--debug", help="Show the traceback of an error.")]


def report(
    archive: ArchiveFolder,
    station: Annotated[str, typer.Argument(metavar="STATION", help="Identifier of the station.")],
    month: Month,
    output: Output = None,
    debug: Debug = False,
) -> None:
    """Write the page of a station and month: what arrived, grades, pictures, findings, changes."""
    from sunledger.report.page import write_month_page

    path = output or Path(f"{station}_report_{month}.html")
    with _told(path, debug):
        write_month_page(archive, station, month, path)


def network(
    archive: ArchiveFolder, month: Month, output: Output = None, debug: Debug = False
) -> None:
    """Write the page that compares the stations for a month: who needs a visit first, and why."""
    from sunledger.report.network_page import write_network_page

    path = output or Path(f"network_{month}.html")
    with _told(path, debug):
        write_network_page(archive, month, path)


@contextmanager
def _told(path: Path, debug: bool) -> Iterator[None]:
    """The size of what was written, or an expected error in its own words."""
    from sunledger.errors import SunledgerError

    try:
        yield
    except SunledgerError as error:
        if debug:
            raise
        typer.echo(str(error), err=True)
        raise typer.Exit(REFUSED) from error
    typer.echo(f"{path}: {path.stat().st_size:,} bytes")


def register(app: typer.Typer) -> None:
    """
    Add the commands to the command line.

    Parameters
    ----------
    app : typer.Typer
        The command line.
    """
    app.command()(report)
    app.command()(network)
