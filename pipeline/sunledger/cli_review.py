"""Commands for a reviewer: parse, call, print, exit code. Nothing is computed here."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

CANNOT_READ = 1

review = typer.Typer(no_args_is_help=True, help="Decisions of a reviewer.")

MinuteFile = Annotated[Path, typer.Argument(metavar="FILE", help="Minute file of a month.")]
Longest = Annotated[int, typer.Option(min=1, help="Number of stretches.")]
Role = Annotated[str, typer.Option(help="Who decides, by role.")]
Decided = Annotated[str, typer.Option(help="When it is decided, UTC.")]
Debug = Annotated[bool, typer.Option("--debug", help="Show the traceback of an error.")]


@review.callback()
def _group() -> None:
    """Commands of their own."""


@review.command()
def suggest(
    file: MinuteFile,
    decided: Decided,
    longest: Longest = 20,
    role: Role = "reviewer",
    debug: Debug = False,
) -> None:
    """Print the longest flagged stretches as entries of review.yaml to edit."""
    from sunledger.errors import SunledgerError
    from sunledger.run.review import suggestions

    try:
        lines = suggestions(file, longest, role, decided)
    except SunledgerError as error:
        if debug:
            raise
        typer.echo(str(error), err=True)
        raise typer.Exit(CANNOT_READ) from error
    for line in lines:
        typer.echo(line)


@review.command()
def accept(  # noqa: PLR0913 - one parameter an option
    finding: Annotated[str, typer.Argument(metavar="FINDING", help="Identifier of the finding.")],
    workflow: Annotated[Path, typer.Argument(metavar="WORKFLOW", help="Run plan in YAML.")],
    decided: Decided,
    reason: Annotated[str, typer.Option(help="Why it is taken as true.")],
    condition: Annotated[
        str, typer.Option("--as", help="level_doubtful or clock_doubtful, where it may be either.")
    ] = "",
    role: Role = "reviewer",
    debug: Debug = False,
) -> None:
    """Append a finding to review.yaml; the next run takes it as any other entry."""
    from sunledger.errors import SunledgerError
    from sunledger.run.accepting import Decided as Decision
    from sunledger.run.accepting import accept as accept_finding

    try:
        path = accept_finding(workflow, finding, Decision(role, decided, reason, condition))
    except SunledgerError as error:
        if debug:
            raise
        typer.echo(str(error), err=True)
        raise typer.Exit(CANNOT_READ) from error
    typer.echo(f"{path}: {finding} appended; the next run applies it")


def register(app: typer.Typer) -> None:
    """
    Add the commands to the command line.

    Parameters
    ----------
    app : typer.Typer
        The command line.
    """
    app.add_typer(review, name="review")
