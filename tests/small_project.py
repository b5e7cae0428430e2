"""A small project of an invented station with two loggers, for tests of whole runs.

Three days around the end of June 2031, one raw file a day and logger. The irradiances are the first
three days of the published month (see real_month.py), so that suns and limits behave as in nature.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

import invented
import real_month

DAYS = ("2031-06-29", "2031-06-30", "2031-07-01")
LOGGERS = {"main": ("global_1", "diffuse_1"), "beam": ("direct_1",)}
LEAN = ("diffuse_1", "direct_1")
"""Positions of which the mean alone is logged, to keep the files small."""
STATION = "tst"
MINUTES = 1440
OFFSET = 3600
ROLE = "station keeper"
CONFIGS = Path(__file__).resolve().parent.parent / "configs"


def signals(position: str, table: pd.DataFrame) -> dict[str, np.ndarray]:
    """Millivolts of the statistics at one position."""
    quantity, sensitivity = invented.QUANTITY[position], invented.SENSITIVITY[position]
    parts = (("", "mean"), ("_min", "min"), ("_max", "max"), ("_std", "std"))
    return {
        f"{position}_{word}": table[quantity + suffix].to_numpy() * sensitivity / 1000.0
        for suffix, word in (parts[:1] if position in LEAN else parts)
    }


def day_table(logger: str, day: str, rows: slice) -> pd.DataFrame:
    """What a logger writes on a day of UTC: labels at the end of the minute, in UTC+1."""
    table = real_month.published().iloc[rows]
    first = pd.Timestamp(day) + pd.Timedelta(seconds=OFFSET + 60)
    stamps = pd.date_range(first, periods=len(table), freq="min")
    columns: dict[str, Any] = {"stamp": stamps.strftime("%Y-%m-%d %H:%M:%S")}
    for position in LOGGERS[logger]:
        columns |= signals(position, table)
    if logger == "main":
        columns["ta"] = table["temp_air"].to_numpy()
    else:
        columns["mode"] = np.ones(len(table))
    return pd.DataFrame(columns)


def _channels(name: str) -> list[dict[str, Any]]:
    rows = invented.channels(LOGGERS[name])
    lean = [c for c in rows if c.get("position") not in LEAN or c["statistic"] == "mean"]
    air = {"column": "ta", "quantity": "air_temperature", "unit": "degC"}
    return [*lean, air] if name == "main" else lean


def raw_name(logger: str, day: str) -> str:
    """Name of the raw file of a logger and day."""
    return f"{logger}_{day.replace('-', '')}.csv"


def write_raw(
    folder: Path,
    days: Sequence[str] = DAYS,
    loggers: Sequence[str] = ("main", "beam"),
    minutes: int = MINUTES,
) -> None:
    """One raw file a day and logger; every file is written with the same bytes each time."""
    folder.mkdir(parents=True, exist_ok=True)
    for number, day in enumerate(days):
        start = (number % len(DAYS)) * MINUTES
        for logger in loggers:
            table = day_table(logger, day, slice(start, start + minutes))
            table.to_csv(folder / raw_name(logger, day), index=False, float_format="%.5f")


def _loggers() -> dict[str, Any]:
    stamp = {"columns": ["stamp"], "format": "%Y-%m-%d %H:%M:%S"}
    return {
        name: invented.logger(
            positions,
            serial_number=f"NR-LG-{name}",
            files=[f"{name}_*.csv"],
            layouts=[{"time": stamp, "missing": [""]}],
            channels=_channels(name),
        )
        for name, positions in LOGGERS.items()
    }


def entries() -> list[dict[str, Any]]:
    """Deployments, and good checks of level and clock in February."""
    every = [p for positions in LOGGERS.values() for p in positions]
    shade = {"diffuse_1": "disc"}
    put_up = [invented.deployment(p, shade=shade.get(p, "none")) for p in every]
    return [
        *put_up,
        level("lc-1", "2031-02-10", 0.05),
        clock("ck-main-1", "main", "2031-02-10", 0),
        clock("ck-beam-1", "beam", "2031-02-10", 0),
    ]


def level(name: str, time: str, found: float, position: str = "global_1") -> dict[str, Any]:
    """A level check that leaves the instrument level."""
    return {
        "id": name,
        "type": "level_check",
        "time": time,
        "position": position,
        "role": ROLE,
        "found": {"size": found},
        "left": {"size": 0.0},
    }


def clock(name: str, logger: str, time: str, found: float) -> dict[str, Any]:
    """A clock check that sets the clock right."""
    return {
        "id": name,
        "type": "clock_check",
        "time": time,
        "logger": logger,
        "role": ROLE,
        "found": found,
        "left": 0,
    }


def cleaning(name: str, time: str, position: str = "global_1") -> dict[str, Any]:
    """A cleaning, which takes no time that the record knows of."""
    return {
        "id": name,
        "type": "cleaning",
        "time": time,
        "positions": [position],
        "role": ROLE,
        "found": "clean",
    }


def write_project(
    folder: Path, days: Sequence[str] = DAYS, minutes: int = MINUTES, **workflow: Any
) -> Path:
    """Raw files, configuration and workflow; returns the workflow file.

    JSON is YAML in which every text is quoted.
    """
    station = folder / "station"
    station.mkdir(parents=True)
    write_raw(folder / "raw", days, minutes=minutes)
    every = [p for positions in LOGGERS.values() for p in positions]
    instruments = [invented.instrument(p) for p in every]
    instruments += [{"serial_number": f"NR-LG-{n}", "kind": "logger"} for n in LOGGERS]
    plain = {
        "id": STATION,
        "name": "Test Ridge (invented)",
        "description": "Invented, for tests.",
        "latitude": 46.815,
        "longitude": 6.944,
        "altitude": 491.0,
        "licence": "CC-BY-4.0",
        "contact": invented.CONTACT,
        "site": [{"from": "2030-01-01", "surface": "grass"}],
        "loggers": _loggers(),
    }
    network = invented.network().model_dump(mode="json")
    files = {
        "station/station": plain,
        "station/instruments": {"instruments": instruments},
        "station/fieldlog": {"entries": entries()},
        "station/review": {"decisions": []},
        "network": network,
        "processing": {"calibrate": {"level_tolerance": 0.2}},
        "workflow": {
            "network": "network.yaml",
            "processing": "processing.yaml",
            "stations": ["station"],
            "raw": "raw",
            "archive": "archive",
            "as_of": "2031-11-01",
            "workers": 1,
        }
        | workflow,
    }
    for name, content in files.items():
        (folder / f"{name}.yaml").write_text(json.dumps(content, indent=1), encoding="utf-8")
    return folder / "workflow.yaml"


def copy_of(workflow: Path, target: Path) -> Path:
    """A copy of a project with its archive, times of change included; returns its workflow."""
    shutil.copytree(workflow.parent, target, dirs_exist_ok=True)
    return target / workflow.name


def edit(workflow: Path, name: str, change: Callable[[Any], Any]) -> None:
    """Change one of the configuration files of a project in place."""
    path = workflow.parent / f"{name}.yaml"
    content = json.loads(path.read_text(encoding="utf-8"))
    change(content)
    path.write_text(json.dumps(content, indent=1), encoding="utf-8")


def note(workflow: Path, *more: dict[str, Any]) -> None:
    """Add entries to the field log."""
    edit(workflow, "station/fieldlog", lambda f: f["entries"].extend(more))


def products(archive: Path) -> dict[str, bytes]:
    """Bytes of every product and manifest, by name; superseded ones too."""
    found = [*archive.rglob("*.nc"), *archive.rglob("*.nc.json")]
    return {str(p.relative_to(archive)): p.read_bytes() for p in sorted(found)}


def mtimes(archive: Path) -> dict[str, int]:
    """Time of change of every file of an archive but its bookkeeping."""
    return {
        str(p.relative_to(archive)): p.stat().st_mtime_ns
        for p in archive.rglob("*")
        if p.is_file() and ".sunledger" not in p.parts
    }


def made_once(folder: Path) -> Path:
    """The workflow of a project that was run once in a folder; later calls find it there."""
    from sunledger.run.job import Choice, run

    workflow = folder / "small_project" / "workflow.yaml"
    if not workflow.exists():
        write_project(workflow.parent)
        _, outcomes = run(workflow, Choice(), lambda *_: None)
        assert {o.done for o in outcomes} == {"written"}, [o.error for o in outcomes if o.error]
    return workflow
