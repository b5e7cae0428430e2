"""Projects that the tests of runs share: one run for real, one long one of which only manifests."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import pretended
import small_project

BAD_CONFIGS = Path(__file__).parents[1] / "bad_configs"


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Workflow of a project of three days in two months that was run once; not to be changed."""
    return small_project.made_once(tmp_path_factory.getbasetemp())


@pytest.fixture
def project(made: Path, tmp_path: Path) -> Path:
    """Workflow of a copy of that project with its archive, free to be changed."""
    return small_project.copy_of(made, tmp_path / "project")


@pytest.fixture(scope="session")
def long_made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Workflow of a project of two hours in each of ten months, as if it had been run once."""
    folder = tmp_path_factory.mktemp("long") / "project"
    days = [f"{month}-15" for month in pretended.MONTHS]
    workflow = small_project.write_project(folder, days, minutes=120)
    pretended.pretend(workflow)
    return workflow


@pytest.fixture
def long_project(long_made: Path, tmp_path: Path) -> Path:
    """Workflow of a copy of the long project, free to be changed."""
    return small_project.copy_of(long_made, tmp_path / "long")


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    """Return a copy of the sound workflow's folder that a test may change."""
    return Path(shutil.copytree(BAD_CONFIGS / "sound", tmp_path / "sound"))
