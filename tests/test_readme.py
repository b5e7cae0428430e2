"""The README is true: its Python runs on an archive of the sample's layout, its files exist."""

from __future__ import annotations

import re
from pathlib import Path

import matplotlib as mpl
import pytest

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    """Code blocks of one language."""
    return re.findall(rf"```{language}\n(.*?)```", README, flags=re.S)


def test_the_python_runs(sample_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both blocks run as they stand and give what their comments say."""
    monkeypatch.chdir(sample_folder)
    mpl.use("Agg")
    names: dict[str, object] = {}
    for block in blocks("python"):
        exec(block, names)
    minutes, good, closed = names["minutes"], names["good"], names["closed"]
    assert minutes.sizes["time"] > 60 * 1440  # type: ignore[attr-defined]
    assert 0 < int(good.count()) < int(closed.count())  # type: ignore[attr-defined]
    assert {"NM"} == {s[:2] for s in names["deployments"]["serial_number"].astype(str)}  # type: ignore[index]
    assert len(names["levelling"]) > 0  # type: ignore[arg-type]
    axes = mpl.pyplot.gcf().axes
    assert len(axes[0].get_lines()) == 3
    mpl.pyplot.close("all")
    minutes.close()  # type: ignore[attr-defined]


def test_the_files_it_names_exist() -> None:
    """Every file or folder named in the README is there."""
    named = set(re.findall(r"`((?:configs|workflows|sample_raw)/[\w./]+|[A-Z]+\.md)`", README))
    assert named
    assert [n for n in named if not (ROOT / n).exists()] == []


def test_the_commands_exist() -> None:
    """Every sunledger command shown is one of the command line's."""
    from sunledger.cli import app

    shown = set(re.findall(r"^sunledger (\w+)", "\n".join(blocks("bash")), flags=re.M))
    known = {c.name or c.callback.__name__ for c in app.registered_commands if c.callback}
    known |= {str(group.name) for group in app.registered_groups}
    assert {"check", "plan", "run", "verify", "withdraw", "export", "deposit"} <= shown <= known
