"""The command that computes a comparison campaign: parse, call, print, exit code."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

NO_CERTIFICATE, BAD_CONFIGURATION = 1, 2

CampaignFile = Annotated[Path, typer.Argument(metavar="CAMPAIGN", help="Campaign file in YAML.")]
Debug = Annotated[bool, typer.Option("--debug", help="Show the traceback of an error.")]


def campaign(file: CampaignFile, debug: Debug = False) -> None:
    """Compare an instrument with the reference beside it, and print a draft certificate."""
    from sunledger.errors import ConfigError, SunledgerError
    from sunledger.run.campaigning import compare
    from sunledger.run.draft_certificate import campaign_lines, draft_yaml

    try:
        done = compare(file)
    except SunledgerError as error:
        if debug:
            raise
        typer.echo(str(error), err=True)
        code = BAD_CONFIGURATION if isinstance(error, ConfigError) else NO_CERTIFICATE
        raise typer.Exit(code) from error
    # The words are comments, so that the whole can be kept as a file.
    for line in campaign_lines(done):
        typer.echo(f"# {line}")
    typer.echo(draft_yaml(done), nl=False)


def register(app: typer.Typer) -> None:
    """
    Add the command to the command line.

    Parameters
    ----------
    app : typer.Typer
        The command line.
    """
    app.command()(campaign)
