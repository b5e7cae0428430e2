"""Commands on an archive that exists: parse, call, print, exit code. Nothing is computed here."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

DONE, SOMETHING_FOUND, REFUSED = 0, 1, 2

ArchiveFolder = Annotated[Path, typer.Argument(metavar="ARCHIVE", help="Folder of the archive.")]
StationId = Annotated[str, typer.Argument(metavar="STATION", help="Identifier of the station.")]
Product = Annotated[
    str, typer.Argument(metavar="PRODUCT", help="Such as minute, daily, voltage_main.")
]
Products = Annotated[list[str] | None, typer.Option("--product", help="Only this; repeat.")]
First = Annotated[str, typer.Option("--from", help="First month or year.")]
Last = Annotated[str, typer.Option("--to", help="Last month or year, inclusive.")]
Output = Annotated[Path, typer.Option("--output", "-o", help="What to write.")]
Debug = Annotated[bool, typer.Option("--debug", help="Show the traceback of an error.")]


@contextmanager
def _errors(debug: bool) -> Iterator[None]:
    """Print an expected error in its own words; with --debug, its traceback."""
    from sunledger.errors import SunledgerError

    try:
        yield
    except SunledgerError as error:
        if debug:
            raise
        typer.echo(str(error), err=True)
        raise typer.Exit(REFUSED) from error


def verify(
    archive: ArchiveFolder,
    quick: Annotated[
        bool, typer.Option("--quick", help="Bytes only: digests, manifests, change records.")
    ] = False,
    debug: Debug = False,
) -> None:
    """Find missing, altered and foreign files, and products that contradict each other."""
    from sunledger.archive.verify import verify as verify_archive

    with _errors(debug):
        findings = verify_archive(archive, content=not quick)
    for finding in findings:
        typer.echo(str(finding))
    typer.echo(f"{archive}: {len(findings) or 'no'} findings")
    raise typer.Exit(SOMETHING_FOUND if findings else DONE)


def status(
    archive: ArchiveFolder,
    as_json: Annotated[bool, typer.Option("--json", help="As JSON.")] = False,
    debug: Debug = False,
) -> None:
    """Say what an archive holds, how far a run is, or how the last one ended."""
    from sunledger.run.state import archive_state, state_lines

    with _errors(debug):
        state = archive_state(archive)
    typer.echo(json.dumps(state.plain(), indent=1) if as_json else "\n".join(state_lines(state)))


def compare(
    first: Annotated[Path, typer.Argument(help="File, or folder of an archive or station.")],
    second: Annotated[Path, typer.Argument(help="Another of the same kind.")],
    debug: Debug = False,
) -> None:
    """Say how much two files or two archives differ; exit code 1 where they do."""
    from sunledger.archive.compare import compare as compare_paths
    from sunledger.archive.compare import comparison_lines

    with _errors(debug):
        comparisons = compare_paths(first, second)
    for comparison in comparisons:
        typer.echo("\n".join(comparison_lines(comparison)))
    raise typer.Exit(DONE if all(c.same for c in comparisons) else SOMETHING_FOUND)


def withdraw(  # noqa: PLR0913 - one parameter an option
    archive: ArchiveFolder,
    station: StationId,
    product: Product,
    period: Annotated[str, typer.Argument(metavar="PERIOD", help="Such as 2031-03 or 2031.")],
    reason: Annotated[str, typer.Option(help="Why nobody should use it; is published.")],
    date: Annotated[str, typer.Option(help="Date of the withdrawal, YYYY-MM-DD.")],
    debug: Debug = False,
) -> None:
    """Mark a published file as withdrawn; it stays in place and says so."""
    from sunledger.archive.listing import safe_name
    from sunledger.archive.withdraw import withdraw as withdraw_file
    from sunledger.run.lock import archive_lock

    with _errors(debug):
        folder = archive / safe_name(station)
        _require(folder)
        with archive_lock(archive):
            entry = withdraw_file(folder, product, period, reason, date)
    said = f"{station} {product} {period}: version {entry.version} withdrawn on {entry.issued}"
    typer.echo(f"{said} ({entry.cause})")


def _require(folder: Path) -> None:
    from sunledger.errors import ArchiveError

    if not folder.is_dir():
        raise ArchiveError(f"{folder}: no such folder")


def export(  # noqa: PLR0913 - one parameter an option
    archive: ArchiveFolder,
    station: StationId,
    product: Product,
    output: Output,
    first: Annotated[str, typer.Option("--from", help="First day, month or year.")] = "",
    last: Annotated[str, typer.Option("--to", help="Last one, inclusive.")] = "",
    debug: Debug = False,
) -> None:
    """Write a product as CSV, with units, grades, uncertainty and a header that explains it."""
    from sunledger.archive.export import Window, export_csv
    from sunledger.archive.listing import chosen

    with _errors(debug):
        files = chosen(archive, station, (product.split("_")[0],), first[:7], last[:7])
        wanted = [f for f in files if f.recorded_product == product]
        rows = export_csv(wanted, output, Window(first, last))
    typer.echo(f"{output}: {rows:,} rows of {len(wanted)} files")


def provenance(
    archive: ArchiveFolder,
    station: StationId,
    output: Output,
    first: First = "",
    last: Last = "",
    debug: Debug = False,
) -> None:
    """Write the chain from raw files to products as W3C PROV-JSON."""
    from sunledger.archive.atomic import replace_text
    from sunledger.archive.listing import chosen
    from sunledger.archive.prov import provenance as chain

    with _errors(debug):
        files = chosen(archive, station, (), first, last)
        replace_text(output, json.dumps(chain(files), indent=1, sort_keys=True).encode())
    typer.echo(f"{output}: {len(files)} files")


def deposit(  # noqa: PLR0913 - one parameter an option
    archive: ArchiveFolder,
    station: StationId,
    output: Output,
    product: Products = None,
    first: First = "",
    last: Last = "",
    doi: Annotated[str, typer.Option(help="DOI, where one is minted already.")] = "",
    debug: Debug = False,
) -> None:
    """Make a BagIt package with DataCite metadata, licence and README for a repository."""
    from sunledger.archive.deposit import deposit as make_deposit

    with _errors(debug):
        files = make_deposit(archive, station, output, (first, last), product or (), doi)
    typer.echo(f"{output}: {len(files)} files, {sum(f.manifest.size for f in files):,} bytes")


def catalog(
    archive: ArchiveFolder,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="Folder; default ARCHIVE/catalog.")
    ] = None,
    debug: Debug = False,
) -> None:
    """Write a static site that lists, shows and links all files, and catalog.json."""
    from sunledger.archive.catalog import write_catalog

    with _errors(debug):
        written = write_catalog(archive, output)
    typer.echo(f"{output or archive / 'catalog'}: {len(written)} pages written")


def explain(
    archive: ArchiveFolder,
    station: StationId,
    quantity: Annotated[str, typer.Argument(metavar="QUANTITY", help="Such as ghi.")],
    time: Annotated[
        str, typer.Argument(metavar="TIME", help="UTC, within the interval: 2031-04-11T10:17.")
    ],
    raw: Annotated[
        Path | None, typer.Option("--raw", help="Folder of the raw files, to show the line.")
    ] = None,
    debug: Debug = False,
) -> None:
    """Trace one archived minute: raw line, clock, certificate, corrections, flags, uncertainty."""
    from sunledger.config.models.base import parse_utc
    from sunledger.errors import ArchiveError
    from sunledger.run.explaining import explain as explain_value
    from sunledger.run.explaining import explanation_text
    from sunledger.run.tracing import trace

    with _errors(debug):
        try:
            instant = parse_utc(time)
        except ValueError as error:
            raise ArchiveError(f"TIME: {error}") from error
        sections = explain_value(trace(archive, station, quantity, instant), raw)
    typer.echo(explanation_text(sections))


def normals(  # noqa: PLR0913 - one parameter an option
    archive: ArchiveFolder,
    station: StationId,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="NetCDF file to write as well.")
    ] = None,
    first: Annotated[str, typer.Option("--from", help="First year, such as 1991.")] = "",
    last: Annotated[str, typer.Option("--to", help="Last year, inclusive.")] = "",
    least_share: Annotated[
        float, typer.Option(help="Share of the years that a normal needs.")
    ] = 0.8,
    debug: Debug = False,
) -> None:
    """Print climate normals of years of monthly files by month and year; write them as NetCDF."""
    from sunledger.run.normals import station_normals, write_normals

    with _errors(debug):
        spec, text = station_normals(archive, station, first, last, least_share)
        if output is not None:
            write_normals(output, spec)
    typer.echo(text)


def register(app: typer.Typer) -> None:
    """
    Add the commands to the command line.

    Parameters
    ----------
    app : typer.Typer
        The command line.
    """
    commands = (
        *(status, verify, compare, explain, withdraw),
        *(export, provenance, deposit, catalog, normals),
    )
    for command in commands:
        app.command()(command)
