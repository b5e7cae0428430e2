"""Shared by the configuration tests: the sound station, and copies of it with one fault."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from sunledger.config.loading import StationConfig, load_station

BAD_CONFIGS = Path(__file__).parents[1] / "bad_configs"


@pytest.fixture(scope="session")
def bad_configs() -> Path:
    """Return the folder of wrong configurations."""
    return BAD_CONFIGS


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    """Return a copy of the sound workflow's folder that a test may change."""
    return Path(shutil.copytree(BAD_CONFIGS / "sound", tmp_path / "sound"))


@pytest.fixture
def station_with(sound: Path) -> Callable[[str], StationConfig]:
    """Return a loader of the sound station with the files of one fault laid over it."""

    def load(fault: str) -> StationConfig:
        folder = sound / "station"
        shutil.copytree(BAD_CONFIGS / "ledger" / fault, folder, dirs_exist_ok=True)
        return load_station(folder)

    return load


@pytest.fixture
def with_log(sound: Path) -> Callable[[str], StationConfig]:
    """Return a loader of the sound station with entries, one a line in braces, as its log."""

    def load(entries: str) -> StationConfig:
        lines = (f"  - {{role: technician, {line.strip()}}}" for line in entries.splitlines())
        text = "\n".join(["entries:", *(line for line in lines if "type" in line)])
        (sound / "station" / "fieldlog.yaml").write_text(text + "\n", encoding="utf-8")
        return load_station(sound / "station")

    return load
