"""How the archive compares with the truth that only the sample generator knows."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import xarray as xr

from northmere.scenario import SCENARIOS
from northmere.station import Made, make_station
from sunledger.run.job import Choice, run

ROOT = Path(__file__).resolve().parent.parent
FOLDERS = {"osr": "ossel_ridge", "kpn": "karru_pan"}
STARTS = {"osr": "2031-03-25", "kpn": "2031-04-10"}
QUANTITIES = ("ghi", "dhi", "dni")
AS_OF = "2031-07-01"
"""Of the sample, behind the last clock check of its record."""


@dataclass(frozen=True)
class Score:
    """Agreement of one quantity with the truth, over the minutes that no flag or record doubts."""

    minutes: int
    within: float
    """Share of minutes that agree within the stated expanded uncertainty."""
    bias: float
    """Mean error. [W m-2]"""
    uncertainty: float
    """Mean stated expanded uncertainty. [W m-2]"""


def generated(
    folder: Path, station: str, days: int, seed: int, faults: bool = True
) -> tuple[Path, Made]:
    """Raw files of a generated station, and the workflow file for them."""
    start = STARTS[station]
    made = make_station(SCENARIOS[station], start, days, seed, faults=faults)
    made.write(folder / "raw")
    plan = {
        "network": str(ROOT / "configs" / "network.yaml"),
        "processing": str(ROOT / "configs" / "processing.yaml"),
        "stations": [str(ROOT / "configs" / "stations" / FOLDERS[station])],
        "raw": "raw",
        "archive": "archive",
        "workers": 1,
        "stages": ["ingest", "calibrate", "time_correct", "qc_flag"],
        "as_of": max(AS_OF, str(date.fromisoformat(start) + timedelta(days=days + 40))),
    }
    path = folder / "plan.yaml"
    path.write_text(json.dumps(plan), encoding="utf-8")
    return path, made


def plan_of(folder: Path, station: str, days: int, seed: int, faults: bool = True) -> Path:
    """The workflow file of a generated station."""
    return generated(folder, station, days, seed, faults)[0]


def archive_of(folder: Path, station: str, days: int, seed: int) -> tuple[xr.Dataset, dict]:
    """Minutes that the pipeline makes of a generated station, and the truth."""
    path, made = generated(folder, station, days, seed)
    _, outcomes = run(path, Choice(), lambda *_: None)
    assert not [o.error for o in outcomes if o.done == "failed"]
    pieces = []
    for file in sorted((folder / "archive" / station / "minute").glob("*.nc")):
        with xr.open_dataset(file) as ds:
            pieces.append(ds.load())
    ds = xr.concat(
        pieces, "time", data_vars="all", coords="minimal", compat="override", join="outer"
    )
    return ds, dict(made.truth)


def score(ds: xr.Dataset, truth: dict, quantity: str) -> Score:
    """Score of one quantity; graded questionable, bad and missing minutes are left out."""
    time = ds["time"].values.astype("M8[s]").astype(np.int64)
    expected = np.full(time.size, np.nan)
    _, mine, theirs = np.intersect1d(time, np.asarray(truth["time"]), return_indices=True)
    expected[mine] = np.asarray(truth[quantity])[theirs]
    error = ds[quantity].values.astype(float) - expected
    stated = ds[f"{quantity}_uncertainty"].values.astype(float)
    use = np.isfinite(error) & (ds[f"{quantity}_grade"].values <= 2)
    within = np.abs(error[use]) <= stated[use]
    return Score(int(use.sum()), within.mean(), error[use].mean(), stated[use].mean())
