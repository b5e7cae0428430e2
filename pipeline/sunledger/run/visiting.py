"""Entering a filled visit form: checked against the record, then appended to the field log."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from sunledger.config.appending import append_entries, text_with_entries
from sunledger.config.ledger import check_station
from sunledger.config.loading import LoadedWorkflow, StationConfig, checked_model, load_workflow
from sunledger.config.messages import nearest
from sunledger.config.models.fieldlog import FieldLog
from sunledger.config.models.visit import VisitForm
from sunledger.config.visit_entries import Written, entries_of
from sunledger.config.visit_file import load_visit
from sunledger.config.visit_rules import visit_faults
from sunledger.config.yaml_text import SourceLines, parse_text
from sunledger.errors import ConfigError, Fault

Rows = list[tuple[int | None, Written]]


def add_visit(file: Path, workflow: Path) -> tuple[Path, list[str], list[Fault]]:
    """
    Append what a filled visit form tells to the field log of its station, all of it or nothing.

    Parameters
    ----------
    file : Path
        Filled form, in YAML or CSV.
    workflow : Path
        Run plan, which names the stations.

    Returns
    -------
    path : Path
        The field log.
    ids : list of str
        Identifiers of the new entries.
    warnings : list of Fault
        What the ledger remarks on the new entries.

    Raises
    ------
    ConfigError
        If anything in the form does not fit the record, each fault with the form's file and line;
        or if the record itself is not valid. The field log is then left as it was.
    """
    form, lines = load_visit(file)
    loaded = load_workflow(workflow)
    config = _station(form, lines, loaded)
    if faults := visit_faults(form, lines, config):
        raise ConfigError(faults)
    rows = entries_of(form, config)
    faults = _ledger_faults(config, rows, lines, loaded)
    if any(f.severity == "error" for f in faults):
        raise ConfigError([f for f in faults if f.severity == "error"])
    path = config.folder / "fieldlog.yaml"
    append_entries(path, [entry for _, entry in rows], FieldLog)
    return path, [entry["id"] for _, entry in rows], [f for f in faults if f.path == lines.path]


def _station(form: VisitForm, lines: SourceLines, loaded: LoadedWorkflow) -> StationConfig:
    known = {c.station.id: c for c in loaded.stations}
    wanted = form.visit.station
    if wanted not in known:
        why = f"no such station; allowed: {', '.join(known)}{nearest(wanted, tuple(known))}"
        line = lines.line("visit", "station")
        raise ConfigError([Fault(lines.path, line, "visit.station", f"{why} (got {wanted})")])
    return known[wanted]


def _ledger_faults(
    config: StationConfig, rows: Rows, lines: SourceLines, loaded: LoadedWorkflow
) -> list[Fault]:
    """What the ledger says of the record with the new entries, told at the form's lines."""
    path = config.folder / "fieldlog.yaml"
    text = path.read_bytes().decode("utf-8")
    parsed = parse_text(
        text_with_entries(text, [entry for _, entry in rows], "entries", str(path)), path
    )
    faults: list[Fault] = []
    log = checked_model(parsed, FieldLog, faults)
    if log is not None:
        told = config.lines | {"fieldlog": parsed.source}
        added = replace(config, fieldlog=log, lines=told)
        settings, choice = loaded.processing.checks, loaded.processing.calibrate
        faults = check_station(added, settings, loaded.workflow.as_of, choice)
    held = len(config.fieldlog.entries)
    starts = [parsed.source.line("entries", held + i) for i in range(len(rows))]
    return [_at_row(f, str(path), starts, rows, lines) for f in faults]


def _at_row(fault: Fault, path: str, starts: list[int], rows: Rows, lines: SourceLines) -> Fault:
    """A fault of a new entry at the row that gave it; any other as it is."""
    which = sum(start <= fault.line for start in starts) - 1
    if os.fspath(fault.path) != path or which < 0:
        return fault
    index = rows[which][0]
    loc: tuple[str | int, ...] = ("visit",) if index is None else ("entries", index)
    field = fault.field.rpartition(").")[2] or fault.field
    name = f"visit.{field}" if index is None else f"entries[{index}].{field}"
    return replace(fault, path=lines.path, line=lines.line(*loc, field), field=name)
