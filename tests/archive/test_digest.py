"""Digests of files and of plain data."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import netCDF4
import numpy as np
import pytest

from archive.samples import PARTY, minute_file, monthly_file, with_attributes
from sunledger.archive.digest import (
    canonical_json,
    file_sha256,
    indented_json,
    json_digest,
    logical_digest,
    parsed_digest,
)
from sunledger.archive.netcdf import write_file


def test_sha256_of_a_published_vector(tmp_path: Path) -> None:
    """FIPS 180-2, appendix B.1: the digest of the three letters abc."""
    (tmp_path / "x").write_bytes(b"abc")
    expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert file_sha256(tmp_path / "x") == expected


def test_file_and_specification_agree_whatever_the_change_record(tmp_path: Path) -> None:
    spec = minute_file()
    other = with_attributes(spec, product_version="7", date_issued="2032-01-01T00:00:00Z")
    write_file(tmp_path / "a.nc", spec)
    write_file(tmp_path / "b.nc", other)
    assert file_sha256(tmp_path / "a.nc") != file_sha256(tmp_path / "b.nc")
    assert logical_digest(tmp_path / "a.nc") == logical_digest(tmp_path / "b.nc")
    assert logical_digest(str(tmp_path / "a.nc")) == logical_digest(spec)


def test_value_changed_in_the_file_is_seen(tmp_path: Path) -> None:
    write_file(tmp_path / "a.nc", monthly_file())
    before = logical_digest(tmp_path / "a.nc")
    with netCDF4.Dataset(tmp_path / "a.nc", "a") as dataset:
        dataset["ghi"][1] = np.nextafter(dataset["ghi"][1], np.float32(0))
    assert logical_digest(tmp_path / "a.nc") != before


@dataclass(frozen=True)
class Pair:
    """Some plain data."""

    name: str
    value: object


def test_canonical_form() -> None:
    data = {"b": (1, 2.5), "a": Pair("ø", None), 3: np.float64(0.1), "z": np.array([1, 2])}
    expected = b'{"3":0.1,"a":{"name":"\\u00f8","value":null},"b":[1,2.5],"z":[1,2]}'
    assert canonical_json(data) == expected


def test_configuration_models_have_a_canonical_form() -> None:
    assert b'"role":"DataManager"' in canonical_json({"contact": PARTY})


def test_order_of_keys_does_not_matter_but_values_and_types_do() -> None:
    assert json_digest({"a": 1, "b": 2}) == json_digest({"b": 2, "a": 1})
    assert json_digest({"a": 1}) != json_digest({"a": 1.0})
    assert json_digest([0.1]) != json_digest([np.nextafter(0.1, 1)])


@pytest.mark.parametrize("value", [np.nan, np.inf, np.float32("nan"), np.array([1, np.nan])])
def test_numbers_that_are_not_finite_are_refused_with_their_place(value: object) -> None:
    with pytest.raises(ValueError, match=r"\$\.a\[1\]\.value.*only finite numbers"):
        canonical_json({"a": [0, Pair("x", value)]})


def test_what_has_no_canonical_form_is_refused() -> None:
    with pytest.raises(TypeError, match=r"\$\.a: set has no canonical JSON form"):
        canonical_json({"a": {1, 2}})
    with pytest.raises(ValueError, match="two keys become the same text"):
        canonical_json({1: "x", "1": "y"})


@pytest.mark.parametrize(
    "plain",
    [
        {"b": [1, 2.5, None, True, 'é\n"\\'], "a": {"x": 1e-7, "B": False, "": {}}, "c": []},
        [[], {}, [[]], [{"z": [1e300, -0.0, 0.1 + 0.2, 10**20]}, "\U0001f31e\x00/"]],
        {"numpy's float is a float": np.float64(0.1), "text": np.str_("of numpy")},
        {},
        "text",
        None,
    ],
)
def test_indented_text_is_that_of_the_standard_library(plain: object) -> None:
    expected = json.dumps(plain, indent=1, sort_keys=True)
    assert indented_json(plain) == expected
    with pytest.raises(ValueError, match="JSON"):
        indented_json(float("nan"))


def test_parsed_data_have_the_same_digest() -> None:
    """What was read back needs no making plain; a number that is not finite is still refused."""
    plain = {"b": [1, 2.5, None, True, "é"], "a": {"x": 1e-7}}
    assert parsed_digest(json.loads(canonical_json(plain))) == json_digest(plain)
    with pytest.raises(ValueError, match="JSON"):
        parsed_digest({"a": [float("nan")]})
