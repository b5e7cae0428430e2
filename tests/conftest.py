"""Fixtures that several folders share."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import yaml

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="session")
def sample_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder in which the sample job was run once, with the paths that the README names.

    The workflow lies in ``sample.yaml``, the archive in ``build/sample_archive``.
    """
    from sunledger.run.job import Choice, run

    folder = tmp_path_factory.mktemp("sample")
    plan = yaml.safe_load((ROOT / "workflows" / "sample.yaml").read_text(encoding="utf-8"))
    beside = ROOT / "workflows"
    for key in ("network", "processing", "raw"):
        plan[key] = str((beside / plan[key]).resolve())
    plan["stations"] = [str((beside / s).resolve()) for s in plan["stations"]]
    plan |= {"archive": "build/sample_archive", "workers": 1}
    path = folder / "sample.yaml"
    path.write_text(json.dumps(plan), encoding="utf-8")  # JSON is YAML with every text quoted
    _, outcomes = run(path, Choice(), lambda *_: None)
    assert {o.done for o in outcomes} == {"written"}, [o.error for o in outcomes if o.error]
    return folder
