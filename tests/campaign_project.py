"""A generated station with the true sensitivity known, and a campaign on its global pyranometer."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import truth

STATION, SEED, DAYS = "osr", 11, 12
POSITION, SERIAL = "global_1", "NMR-G-1041"


def campaign(**changes: Any) -> dict[str, Any]:
    """A campaign file's content: component sum over the generated days."""
    plain: dict[str, Any] = {
        "workflow": "plan.yaml",
        "station": STATION,
        "position": POSITION,
        "method": "component_sum",
        "components": {"direct": "direct_1", "diffuse": "diffuse_1"},
        "from": "2031-03-25",
        "until": "2031-04-05",
        "laboratory": "Northmere Calibration Room (invented)",
        "selection": {"largest_zenith": 70},
    }
    return {k: v for k, v in (plain | changes).items() if v is not None}


def project(folder: Path, seed: int = SEED, station: str = STATION) -> tuple[Path, float]:
    """Plan, raw files and campaign file in a folder, made once; the true sensitivity."""
    base = folder / f"campaign_{station}_{seed}"
    file = base / "campaign.yaml"
    if not file.exists():
        base.mkdir(parents=True)
        path, made = truth.generated(base, station, DAYS, seed, faults=False)
        own = base / "station"
        shutil.copytree(json.loads(path.read_text())["stations"][0], own)
        plan = json.loads(path.read_text()) | {"stations": ["station"]}
        path.write_text(json.dumps(plan), encoding="utf-8")
        error = made.draws.of(SERIAL, "sensitivity_error")
        unit = made.scenario.instrument(SERIAL)
        true = unit.certificates[0].sensitivity * (1.0 + error)
        (base / "true.json").write_text(json.dumps(true), encoding="utf-8")
        file.write_text(json.dumps(campaign(), indent=1), encoding="utf-8")
    return file, float(json.loads((base / "true.json").read_text()))


def changed(file: Path, name: str, **changes: Any) -> Path:
    """Another campaign file beside the first."""
    other = file.with_name(name)
    other.write_text(json.dumps(campaign(**changes), indent=1), encoding="utf-8")
    return other
