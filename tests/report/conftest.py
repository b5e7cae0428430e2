"""The sound station of the configuration tests, for sheets and forms."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from visit_forms import write_checklist

BAD_CONFIGS = Path(__file__).parents[1] / "bad_configs"


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    """Return a copy of the sound workflow's folder, with a checklist, that a test may change."""
    folder = Path(shutil.copytree(BAD_CONFIGS / "sound", tmp_path / "sound"))
    write_checklist(folder / "station")
    return folder
