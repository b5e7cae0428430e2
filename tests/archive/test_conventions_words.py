"""Flag words say inside the file what each bit means, and common readers can use them."""

from __future__ import annotations

from pathlib import Path

import cf_xarray  # noqa: F401  (adds the accessor)
import numpy as np
import pytest
import xarray as xr

from archive.samples import minute_file
from sunledger.archive.conventions_words import Word, about_limits, flag_word, grade
from sunledger.archive.netcdf import write_file
from sunledger.vocabulary import CONDITIONS, GRADES, QUANTITIES, TESTS, WITHHELD, Bit

VOCABULARY: dict[Word, dict[str, Bit]] = {
    "flags": TESTS,
    "tested": TESTS,
    "conditions": CONDITIONS,
    "withheld": WITHHELD,
}


@pytest.mark.parametrize("word", VOCABULARY)
def test_masks_are_single_bits_that_make_up_the_valid_range(word: Word) -> None:
    """What the checker misses: masks given twice, and a range that does not fit the masks."""
    attributes = flag_word(QUANTITIES["ghi"], word, [0]).attributes
    masks = np.asarray(attributes["flag_masks"])
    assert masks.dtype == np.asarray(attributes["valid_range"]).dtype == np.int32
    assert len(set(masks.tolist())) == masks.size
    assert all(mask > 0 and mask & (mask - 1) == 0 for mask in masks.tolist())
    assert np.asarray(attributes["valid_range"]).tolist() == [0, int(masks.sum())]


@pytest.mark.parametrize("word", VOCABULARY)
def test_every_bit_of_the_vocabulary_is_listed_at_its_place(word: Word) -> None:
    attributes = flag_word(QUANTITIES["dni"], word, [0]).attributes
    names = str(attributes["flag_meanings"]).split()
    masks = np.asarray(attributes["flag_masks"]).tolist()
    assert dict(zip(names, masks, strict=True)) == {n: b.mask for n, b in VOCABULARY[word].items()}
    assert all(bit.meaning in str(attributes["comment"]) for bit in VOCABULARY[word].values())


def test_grades_are_those_of_the_vocabulary() -> None:
    spec = grade(QUANTITIES["lwd"], [1, 2, 3, 4, 9])
    values = np.asarray(spec.attributes["flag_values"])
    assert values.dtype == spec.data.dtype == np.int8
    names = str(spec.attributes["flag_meanings"]).split()
    assert dict(zip(names, values.tolist(), strict=True)) == GRADES


def test_common_reader_decodes_the_words(tmp_path: Path) -> None:
    write_file(tmp_path / "x.nc", minute_file())
    with xr.open_dataset(tmp_path / "x.nc") as ds:
        flags = ds["ghi_flags"].cf.flags
        assert set(flags) == set(TESTS)
        raised = {name: np.flatnonzero(v.values).tolist() for name, v in flags.items() if v.any()}
        assert raised == {"missing": [0], "below_horizon_profile": [1]}
        assert np.flatnonzero((ds["ghi_grade"].cf == "missing").values).tolist() == [0, 1]
        assert bool((ds["ghi_conditions"].cf == "clock_unverified").all())


def test_long_intervals_are_told_beside_the_limits() -> None:
    """Nothing for minutes; above 10 min also how closure takes the sun."""
    assert about_limits(60) == ""
    assert "one-minute means" in about_limits(600)
    assert "Closure" not in about_limits(600)
    assert "mean of the cosine" in about_limits(3600)
