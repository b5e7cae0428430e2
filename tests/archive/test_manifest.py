"""The manifest comes back as written, is the same every time, and anything else counts as none."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sunledger.archive.manifest import (
    InputFile,
    Manifest,
    checked_manifest,
    manifest_path,
    read_manifest,
    sealed,
    unsealed,
    write_manifest,
)
from sunledger.errors import ArchiveError

MANIFEST = Manifest(
    "minute",
    "ossel",
    "2031-03",
    "k" * 64,
    (InputFile("main/2031-03-01.dat", "a" * 64, 12), InputFile("main/2031-03-02.dat", "b" * 64, 0)),
    {"calibrate": {"policy": "interpolated"}, "horizon": [[0.0, 1.5]]},
    {"sunledger": "0.1.0"},
    {"kept": 44640},
    {"ghi": {"missing": 3}},
    "c" * 64,
    "d" * 64,
    1234,
    "final",
    2,
)


def test_comes_back_as_written(tmp_path: Path) -> None:
    path = tmp_path / "x.nc"
    assert write_manifest(path, MANIFEST) == tmp_path / "x.nc.json" == manifest_path(path)
    assert read_manifest(path) == MANIFEST
    assert list(tmp_path.iterdir()) == [tmp_path / "x.nc.json"]


FINDING = {"name": "level_step", "size": 0.5, "cannot_tell": ["a"], "evidence": {"days": 9}}


@pytest.mark.parametrize("findings", [None, (), (FINDING, {**FINDING, "size": 0.25})])
def test_findings_come_back_where_there_was_a_diagnosis(tmp_path: Path, findings: object) -> None:
    """None found is another thing than not looked for, which leaves no trace in the manifest."""
    path = tmp_path / "x.nc"
    manifest = replace(MANIFEST, findings=findings)
    plain = json.loads(write_manifest(path, manifest).read_text())
    assert checked_manifest(path) == manifest
    assert ("findings" in plain) == (findings is not None)
    assert plain.get("findings", []) == list(findings or ())


def test_same_bytes_whatever_the_order_and_kind_of_numbers(tmp_path: Path) -> None:
    first = write_manifest(tmp_path / "x.nc", MANIFEST).read_bytes()
    accounting = {"kept": np.int64(44640)}
    configuration = dict(reversed(MANIFEST.resolved_configuration.items()))
    other = replace(MANIFEST, accounting=accounting, resolved_configuration=configuration)
    assert write_manifest(tmp_path / "x.nc", other).read_bytes() == first
    assert first.endswith(b"}\n")


@pytest.mark.parametrize(
    "change",
    [
        {"format": "another"},
        {"size": "12"},
        {"status": "fine"},
        {"inputs": [{"name": "x"}]},
        {"inputs": {}},
        {"extra": 1},
        {"findings": {}},
        {"findings": ["level_step"]},
        {"findings": None},
    ],
)
def test_foreign_content_counts_as_none(tmp_path: Path, change: dict[str, object]) -> None:
    target = write_manifest(tmp_path / "x.nc", MANIFEST)
    plain = {k: v for k, v in json.loads(target.read_text()).items() if k != "seal"}
    target.write_text(json.dumps(sealed({**plain, **change})))
    assert read_manifest(tmp_path / "x.nc") is None


def test_missing_cut_and_empty_count_as_none(tmp_path: Path) -> None:
    assert read_manifest(tmp_path / "x.nc") is None
    target = write_manifest(tmp_path / "x.nc", MANIFEST)
    whole = target.read_bytes()
    for content in (whole[:-10], b"", b"[]", b"\xff\xfe"):
        target.write_bytes(content)
        assert read_manifest(tmp_path / "x.nc") is None
    incomplete = {k: v for k, v in json.loads(whole).items() if k not in ("key", "seal")}
    target.write_text(json.dumps(sealed(incomplete)))
    assert read_manifest(tmp_path / "x.nc") is None


def test_numbers_that_are_not_finite_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"\$\.accounting\.share: only finite"):
        write_manifest(tmp_path / "x.nc", replace(MANIFEST, accounting={"share": float("nan")}))
    assert list(tmp_path.iterdir()) == []


def test_place_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(ArchiveError, match=r"x\.nc\.json: cannot be written"):
        write_manifest(tmp_path / "file" / "x.nc", MANIFEST)


def test_every_altered_byte_is_found(tmp_path: Path) -> None:
    path = tmp_path / "x.nc"
    target = write_manifest(path, MANIFEST)
    whole = target.read_bytes()
    assert checked_manifest(path) == MANIFEST
    for place in range(len(whole)):
        target.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        with pytest.raises(ArchiveError, match=r"x\.nc\.json: manifest was altered"):
            checked_manifest(path)
    for blank in (b"\n", b" "):  # other blanks are the same JSON, but not the same bytes
        target.write_bytes(whole.replace(blank, b"\t", 1))
        with pytest.raises(ArchiveError, match="its text, not its content"):
            checked_manifest(path)
    target.unlink()
    with pytest.raises(ArchiveError, match=r"x\.nc\.json: manifest is missing"):
        checked_manifest(path)


def test_content_without_its_own_seal_counts_as_none(tmp_path: Path) -> None:
    target = write_manifest(tmp_path / "x.nc", MANIFEST)
    plain = json.loads(target.read_text())
    target.write_text(json.dumps({**plain, "version": 3}))
    assert read_manifest(tmp_path / "x.nc") is None
    assert unsealed({"a": 1}) is None
    assert unsealed(sealed({"a": 1})) == {"a": 1}
