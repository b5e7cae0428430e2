"""The command that prints an uncertainty budget: parse, call, print, exit code."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

BAD_REQUEST = 2

StationFolder = Annotated[Path, typer.Argument(metavar="STATION", help="Folder of a station.")]
Quantity = Annotated[str, typer.Argument(metavar="QUANTITY", help="Such as ghi.")]
Irradiance = Annotated[
    float | None, typer.Option(help="Of the quantity; else usual under a clear sky. [W m-2]")
]
Zenith = Annotated[float, typer.Option(help="Of the sun. [degree]")]
Temperature = Annotated[float, typer.Option(help="Of the instrument's body. [degC]")]
NetLongwave = Annotated[float | None, typer.Option(help="At the instrument. [W m-2]")]
Beam = Annotated[float | None, typer.Option(help="Direct irradiance. [W m-2]")]
Change = Annotated[float, typer.Option(help="Of the light within the minute. [W m-2]")]
At = Annotated[str | None, typer.Option(help="When, UTC; else the newest entry of the log.")]
ProcessingFile = Annotated[Path | None, typer.Option(help="Settings; else the defaults.")]
Debug = Annotated[bool, typer.Option("--debug", help="Show the traceback of an error.")]


def budget(  # noqa: PLR0913 - one option a condition
    station: StationFolder,
    quantity: Quantity,
    irradiance: Irradiance = None,
    zenith: Zenith = 45.0,
    temperature: Temperature = 20.0,
    net_longwave: NetLongwave = None,
    beam: Beam = None,
    change: Change = 0.0,
    at: At = None,
    processing: ProcessingFile = None,
    debug: Debug = False,
) -> None:
    """Print the uncertainty budget of a quantity at given conditions."""
    from sunledger.errors import SunledgerError
    from sunledger.run.budget_table import Conditions, budget_lines

    wanted = Conditions(irradiance, zenith, temperature, net_longwave, beam, at, change)
    try:
        lines = budget_lines(station, quantity, wanted, processing)
    except SunledgerError as error:
        if debug:
            raise
        typer.echo(str(error), err=True)
        raise typer.Exit(BAD_REQUEST) from error
    for line in lines:
        typer.echo(line)


def register(app: typer.Typer) -> None:
    """
    Add the command to the command line.

    Parameters
    ----------
    app : typer.Typer
        The command line.
    """
    app.command()(budget)
