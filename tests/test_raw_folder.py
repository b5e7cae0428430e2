"""A raw folder filled in other ways gives the same archive; only the lists of files differ."""

from __future__ import annotations

import gzip
import random
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest
import xarray as xr

import small_project
from sunledger.archive.digest import logical_digest
from sunledger.run.job import Choice, run

Files = dict[str, list[str]]


def quiet(*_: object) -> None:
    """Progress that nobody watches."""


def _merged(files: Files) -> Files:
    """One growing file a logger."""
    out: Files = {}
    for name, lines in sorted(files.items()):
        whole = out.setdefault(f"{name.split('_')[0]}_all.csv", lines[:1])
        whole += lines[1:]
    return out


def _split(files: Files) -> Files:
    """Pieces of any length, under names in another order."""
    rng = random.Random(5)
    out: Files = {}
    for name, lines in files.items():
        cuts = [1, *sorted(rng.sample(range(2, len(lines)), 3)), len(lines)]
        for a, b in pairwise(cuts):
            number = rng.randrange(10**6)
            out[f"{name.split('_')[0]}_{number}.csv"] = lines[:1] + lines[a:b]
    return out


def _shuffled(files: Files) -> Files:
    """The contents of the files under each other's names."""
    out: Files = {}
    for logger in ("main", "beam"):
        mine = sorted(n for n in files if n.startswith(logger))
        others = mine[1:] + mine[:1]
        out |= {name: files[other] for name, other in zip(mine, others, strict=True)}
    return out


def _project(folder: Path, change: Callable[[Files], Files], pack: bool = False) -> Path:
    """The small project with its raw files rearranged; some lines are damaged before."""
    workflow = small_project.write_project(folder)
    raw = folder / "raw"
    files = {p.name: p.read_text(encoding="utf-8").splitlines() for p in raw.glob("*.csv")}
    damaged = files["main_20310630.csv"]
    damaged[200] = "garbled"
    damaged[300] = damaged[300][:16] + ":00,?" + damaged[300][21:]
    for path in raw.glob("*.csv"):
        path.unlink()
    for name, lines in change(files).items():
        data = ("\n".join(lines) + "\n").encode()
        target = raw / (f"{name}.gz" if pack else name)
        target.write_bytes(gzip.compress(data, mtime=0) if pack else data)
    if pack:
        small_project.edit(
            workflow,
            "station/station",
            lambda s: [g.update(files=[f"{n}_*.gz"]) for n, g in s["loggers"].items()],
        )
    return workflow


def _archive(workflow: Path) -> dict[str, Path]:
    _, outcomes = run(workflow, Choice(workers=1), quiet)
    assert [o for o in outcomes if o.done != "written"] == []
    return {p.name: p for p in (workflow.parent / "archive").rglob("*.nc")}


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The archive of one file a day and logger."""
    return _archive(_project(tmp_path_factory.mktemp("plain"), lambda files: files))


def _voltages(path: Path) -> xr.Dataset:
    """All that the file says of the readings, except which file they came from."""
    with xr.open_dataset(path, decode_times=False) as ds:
        names = [n for n in ds.data_vars if "source_" not in str(n)]
        return ds[names].load().drop_attrs()


def _reasons(path: Path) -> list[str]:
    with xr.open_dataset(path, group="metadata/quarantine") as table:
        found: list[str] = table["rejected_reason"].values.tolist()
    return found


@pytest.mark.parametrize(
    ("change", "pack"),
    [(_merged, False), (_split, False), (_shuffled, False), (lambda f: f, True)],
    ids=["merged", "split", "shuffled", "compressed"],
)
def test_the_same_archive(
    tmp_path: Path, plain: dict[str, Path], change: Callable[[Files], Files], pack: bool
) -> None:
    """Voltages value by value in the same order, and the logical digests of all products."""
    made = _archive(_project(tmp_path / "p", change, pack))
    assert sorted(made) == sorted(plain)
    for name in (n for n in made if "voltage" in n):
        xr.testing.assert_identical(_voltages(made[name]), _voltages(plain[name]))
        assert _reasons(made[name]) == _reasons(plain[name])
    different = [n for n in plain if logical_digest(made[n]) != logical_digest(plain[n])]
    assert different == []
