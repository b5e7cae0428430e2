"""Sheet and form for the next visit to a station of a run plan."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from sunledger.archive.atomic import replace_text
from sunledger.archive.findings_file import FINDINGS, read_findings
from sunledger.config.checklists import FILE_NAME, load_checklist
from sunledger.config.loading import LoadedWorkflow, StationConfig, load_workflow
from sunledger.config.messages import not_among
from sunledger.errors import ArchiveError, SunledgerError
from sunledger.report.visit_sheet import visit_sheet
from sunledger.report.visit_template import csv_template, yaml_template


def station_sheet(workflow: Path, station: str, archive: Path | None = None) -> str:
    """
    The sheet for the next visit to a station.

    Parameters
    ----------
    workflow : Path
        Run plan.
    station : str
        Identifier.
    archive : Path or None
        Where findings are looked for; None for the plan's own.

    Returns
    -------
    html : str
        One page that needs nothing else.

    Raises
    ------
    ConfigError
        If the configuration or the checklist is not valid.
    SunledgerError
        If the plan has no such station.
    """
    loaded = load_workflow(workflow)
    config = _station(loaded, station)
    found = open_findings(loaded.archive if archive is None else archive, config)
    return visit_sheet(config, load_checklist(config), loaded.processing.checks, found)


def station_form(workflow: Path, station: str, as_table: bool = False) -> str:
    """
    The visit form of a station, to be filled in.

    Parameters
    ----------
    workflow : Path
        Run plan.
    station : str
        Identifier.
    as_table : bool
        As CSV in place of YAML.

    Returns
    -------
    text : str
        The form.

    Raises
    ------
    ConfigError
        If the configuration or the checklist is not valid.
    SunledgerError
        If the plan has no such station.
    """
    config = _station(load_workflow(workflow), station)
    return (csv_template if as_table else yaml_template)(config, load_checklist(config))


def write_visit_papers(
    workflow: Path, folder: Path, archive: Path | None = None
) -> Iterator[tuple[str, tuple[Path, ...]]]:
    """
    Write sheet and form of every station of a run plan that has a checklist.

    Parameters
    ----------
    workflow : Path
        Run plan.
    folder : Path
        Where a folder for each station is made.
    archive : Path or None
        Where findings are looked for; None for the plan's own.

    Yields
    ------
    station, paths : str, tuple of Path
        Sheet, form in YAML and form in CSV; none where the station has no checklist.

    Raises
    ------
    ConfigError
        If the configuration or a checklist is not valid.
    """
    loaded = load_workflow(workflow)
    for config in loaded.stations:
        name = config.station.id
        if not (config.folder / FILE_NAME).is_file():
            yield name, ()
            continue
        checklist = load_checklist(config)
        found = open_findings(loaded.archive if archive is None else archive, config)
        papers = {
            "visit_sheet.html": visit_sheet(config, checklist, loaded.processing.checks, found),
            "visit.yaml": yaml_template(config, checklist),
            "visit.csv": csv_template(config, checklist),
        }
        for file, text in papers.items():
            replace_text(folder / name / file, text.encode())
        yield name, tuple(folder / name / file for file in papers)


def open_findings(
    archive: Path, config: StationConfig
) -> tuple[str, tuple[dict[str, Any], ...]] | None:
    """
    Findings of the newest month diagnosed that nobody has accepted yet.

    Parameters
    ----------
    archive : Path
        The archive.
    config : StationConfig
        The station's files.

    Returns
    -------
    month, findings : str, tuple of dict or None
        The costliest first; None where no month was diagnosed.
    """
    accepted = {a.finding for a in config.review.accepted_findings}
    for path in sorted((archive / config.station.id / FINDINGS).glob("*.jsonl"), reverse=True):
        try:
            file = read_findings(path)
        except ArchiveError:  # `verify` says what is wrong with it
            continue
        rows = tuple(dict(r) for r in file.rows if r["id"] not in accepted)
        return str(file.header["period"]), rows
    return None


def _station(loaded: LoadedWorkflow, station: str) -> StationConfig:
    known = {c.station.id: c for c in loaded.stations}
    if station not in known:
        raise SunledgerError(f"STATION: no such station; {not_among(station, known)}")
    return known[station]
