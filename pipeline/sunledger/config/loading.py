"""Loading what people write: every fault of every file at once, each with file and line."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from sunledger.config.messages import model_faults
from sunledger.config.models.base import Model
from sunledger.config.models.fieldlog import FieldLog
from sunledger.config.models.instruments import Inventory
from sunledger.config.models.processing import Processing
from sunledger.config.models.review import Review
from sunledger.config.models.station import Station
from sunledger.config.models.workflow import Network, Workflow
from sunledger.config.yaml_text import ParsedText, SourceLines, parse_file
from sunledger.errors import ConfigError, Fault

AnyModel = TypeVar("AnyModel", bound=BaseModel)

STATION_FILES: dict[str, type[Model]] = {
    "station": Station,
    "inventory": Inventory,
    "fieldlog": FieldLog,
    "review": Review,
}
_FILE_NAMES = {name: f"{name}.yaml" for name in STATION_FILES} | {"inventory": "instruments.yaml"}


@dataclass(frozen=True)
class StationConfig:
    """
    A station's four files.

    Parameters
    ----------
    station : Station
        `station.yaml`.
    inventory : Inventory
        `instruments.yaml`.
    fieldlog : FieldLog
        `fieldlog.yaml`.
    review : Review
        `review.yaml`.
    folder : Path
        Where they lie.
    lines : dict of SourceLines
        By ``station``, ``inventory``, ``fieldlog``, ``review``: where each entry stands.
    """

    station: Station
    inventory: Inventory
    fieldlog: FieldLog
    review: Review
    folder: Path = Path()
    lines: dict[str, SourceLines] = field(default_factory=dict, repr=False, compare=False)

    def place(self, file: str, *loc: str | int) -> tuple[str, int]:
        """
        File and line of an entry.

        Parameters
        ----------
        file : str
            ``station``, ``inventory``, ``fieldlog`` or ``review``.
        *loc : str or int
            Keys and list indices from the root.

        Returns
        -------
        path, line : str, int
            Line 0 for a configuration that was not loaded from files.
        """
        source = self.lines.get(file)
        if source is None:
            return str(self.folder / _FILE_NAMES[file]), 0
        return source.path, source.line(*loc)

    def entry_place(self, entry_id: str) -> tuple[str, int]:
        """
        File and line of an entry of the field log.

        Parameters
        ----------
        entry_id : str
            Its identifier.

        Returns
        -------
        path, line : str, int
            Line of the entry's first word; of the list when there is no such entry.
        """
        ids = [entry.id for entry in self.fieldlog.entries]
        step = (ids.index(entry_id),) if entry_id in ids else ()
        return self.place("fieldlog", "entries", *step)


@dataclass(frozen=True)
class LoadedWorkflow:
    """
    A run plan with everything it names.

    Parameters
    ----------
    workflow : Workflow
        The plan.
    network : Network
        Whose archive it is.
    processing : Processing
        Settings of the stages.
    stations : tuple of StationConfig
        In the order written.
    path : Path
        The plan's file.
    raw, archive : Path
        Folders, resolved from the plan's file.
    """

    workflow: Workflow
    network: Network
    processing: Processing
    stations: tuple[StationConfig, ...]
    path: Path
    raw: Path
    archive: Path


def load_yaml(path: str | Path) -> tuple[dict[str, Any], SourceLines]:
    """
    Data of a YAML file and where each entry stands.

    Parameters
    ----------
    path : str or Path
        The file.

    Returns
    -------
    data, lines : dict, SourceLines
        Plain data, times as text, and the lines of the entries.

    Raises
    ------
    ConfigError
        With every fault of the file's writing.
    """
    parsed = parse_file(path)
    _raise_if_any(parsed.faults)
    return parsed.data, parsed.source


def load_model(path: str | Path, model: type[AnyModel]) -> AnyModel:
    """
    A configuration file as its model.

    Parameters
    ----------
    path : str or Path
        The file.
    model : type of BaseModel
        What it must hold.

    Returns
    -------
    loaded : BaseModel
        An instance of ``model``.

    Raises
    ------
    ConfigError
        With every fault of the file.
    """
    loaded: AnyModel = load_all([(path, model)])[0]
    return loaded


def load_all(wanted: Sequence[tuple[str | Path, type[BaseModel]]]) -> tuple[Any, ...]:
    """
    Several configuration files as their models.

    Parameters
    ----------
    wanted : sequence of (path, model)
        Files and what they must hold.

    Returns
    -------
    loaded : tuple of BaseModel
        In the same order.

    Raises
    ------
    ConfigError
        With every fault of all the files.
    """
    faults: list[Fault] = []
    loaded = [checked_model(parse_file(path), model, faults) for path, model in wanted]
    _raise_if_any(faults)
    return tuple(loaded)


def checked_model(
    parsed: ParsedText, model: type[AnyModel], faults: list[Fault]
) -> AnyModel | None:
    """
    A parsed file as its model, with what is wrong added to a list of faults.

    Parameters
    ----------
    parsed : ParsedText
        The file.
    model : type of BaseModel
        What it must hold.
    faults : list of Fault
        The file's faults are appended.

    Returns
    -------
    loaded : BaseModel or None
        None when there are faults.
    """
    faults.extend(parsed.faults)
    if parsed.data is None:
        return None
    try:
        # Through JSON, since only there does strict checking take lists for tuples.
        loaded = model.model_validate_json(json.dumps(parsed.data), strict=True)
    except ValidationError as error:
        found = model_faults(error, model, parsed.data, parsed.source)
        faults.extend(fault for fault in found if not _told(fault, parsed.faults))
        return None
    return None if parsed.faults else loaded


def load_station(folder: str | Path) -> StationConfig:
    """
    A station's four files.

    Parameters
    ----------
    folder : str or Path
        Folder with `station.yaml`, `instruments.yaml`, `fieldlog.yaml` and `review.yaml`.

    Returns
    -------
    config : StationConfig
        Each file valid by itself; how they fit together is the ledger's to check.

    Raises
    ------
    ConfigError
        With every fault of the four files.
    """
    faults: list[Fault] = []
    config = _station(Path(folder), faults)
    if config is None:
        raise ConfigError(faults)
    return config


def load_workflow(path: str | Path) -> LoadedWorkflow:
    """
    A run plan with everything it names; no data file is opened.

    Parameters
    ----------
    path : str or Path
        File in `workflows/`. Paths in it are relative to its folder.

    Returns
    -------
    loaded : LoadedWorkflow
        Plan, network, settings and stations.

    Raises
    ------
    ConfigError
        With every fault of all the files.
    """
    path, faults = Path(path), list[Fault]()
    parsed = parse_file(path)
    workflow = checked_model(parsed, Workflow, faults)
    data = parsed.data or {}
    network = _named_file(parsed, "network", Network, faults)
    processing = _named_file(parsed, "processing", Processing, faults)
    stations = [
        _named_station(parsed, i, folder, faults)
        for i, folder in enumerate(_texts(data.get("stations")))
    ]
    complete = [station for station in stations if station is not None]
    faults.extend(_repeated_ids(parsed, complete))
    _raise_if_any(faults)
    if workflow is None or network is None or processing is None:
        raise ConfigError(faults)
    raw, archive = (_beside(path, name) for name in (workflow.raw, workflow.archive))
    return LoadedWorkflow(workflow, network, processing, tuple(complete), path, raw, archive)


def _told(fault: Fault, traps: Iterable[Fault]) -> bool:
    """Whether a trap on the same entry said it: its value is wrong for the model too."""
    return any(t.line == fault.line and t.field.startswith(fault.field) for t in traps)


def _raise_if_any(faults: Iterable[Fault]) -> None:
    if found := list(faults):
        raise ConfigError(found)


def _beside(path: Path, name: str) -> Path:
    """Path named in a file, without the detours over `..` that clutter messages."""
    return Path(os.path.normpath(path.parent / name))


def _texts(value: Any) -> list[str]:
    return [v for v in value if isinstance(v, str)] if isinstance(value, list) else []


def _station(folder: Path, faults: list[Fault]) -> StationConfig | None:
    parsed = {name: parse_file(folder / _FILE_NAMES[name]) for name in STATION_FILES}
    models = {n: checked_model(parsed[n], m, faults) for n, m in STATION_FILES.items()}
    if None in models.values():
        return None
    lines = {name: parsed[name].source for name in parsed}
    return StationConfig(**models, folder=folder, lines=lines)  # type: ignore[arg-type]


def _named_file(
    parsed: ParsedText, key: str, model: type[AnyModel], faults: list[Fault]
) -> AnyModel | None:
    name = (parsed.data or {}).get(key)
    if not isinstance(name, str):
        return None  # the plan's own fault, told already
    path = _beside(Path(parsed.source.path), name)
    if not path.is_file():
        faults.append(_no_such(parsed, (key,), "file", path))
        return None
    return checked_model(parse_file(path), model, faults)


def _named_station(
    parsed: ParsedText, index: int, folder: str, faults: list[Fault]
) -> StationConfig | None:
    path = _beside(Path(parsed.source.path), folder)
    if not path.is_dir():
        faults.append(_no_such(parsed, ("stations", index), "folder", path))
        return None
    return _station(path, faults)


def _no_such(parsed: ParsedText, loc: tuple[str | int, ...], what: str, path: Path) -> Fault:
    name = "".join(f"[{s}]" if isinstance(s, int) else s for s in loc)
    why = f"no such {what}; paths are relative to this file (got {path})"
    return Fault(parsed.source.path, parsed.source.line(*loc), name, why)


def _repeated_ids(parsed: ParsedText, stations: list[StationConfig]) -> Iterable[Fault]:
    first: dict[str, StationConfig] = {}
    for config in stations:
        name = config.station.id
        if name in first:
            path, line = config.place("station", "id")
            other = ":".join(str(p) for p in first[name].place("station", "id"))
            yield Fault(path, line, "id", f"station {name} is given twice; first in {other}")
        first.setdefault(name, config)
