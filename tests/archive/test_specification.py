"""Packing loses nothing, and a specification that contradicts itself is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunledger.archive.specification import (
    PACKED_FILL,
    Packing,
    VariableSpec,
    pack_decimal,
    quantize,
    text_bytes,
)
from sunledger.errors import ArchiveError


def bits(values: np.ndarray) -> np.ndarray:
    """Bit patterns of doubles."""
    return np.asarray(values, np.float64).view(np.int64)


@given(st.integers(0, 7), st.lists(st.integers(-(2**31) + 1, 2**31 - 1), max_size=50))
def test_numbers_read_from_text_come_back_bit_for_bit(decimals: int, stored: list[int]) -> None:
    """What a logger prints with up to seven decimals is what is read from the archive."""
    texts = [f"{'-' if n < 0 else ''}{abs(n) // 10**decimals}" for n in stored]
    rest = [f"{abs(n) % 10**decimals:0{decimals}d}" if decimals else "0" for n in stored]
    values = np.array([float(f"{a}.{b}") for a, b in zip(texts, rest, strict=True)]) + 0.0
    packing = pack_decimal(values)
    assert packing is not None
    assert packing.decimals <= decimals
    assert np.array_equal(bits(packing.decode(packing.encode(values))), bits(values))


@pytest.mark.parametrize(
    ("values", "decimals"),
    [
        ([], 0),
        ([np.nan, np.nan], 0),
        ([1.0, -3.0, np.nan], 0),
        ([0.1, 12.0], 1),
        ([-0.0021, 8.25], 4),
        ([1.1234567], 7),
        ([214.7483647], 7),
        ([214.7483648], None),  # one beyond 32 bits
        ([1.12345678], None),  # eight decimals
        ([1 / 3], None),
        ([np.inf, 1.0], None),
        ([-0.0], None),
        ([np.nextafter(0.1, 1)], None),
        ([-2147483648.0], None),  # the code of a missing value
    ],
)
def test_smallest_number_of_decimals(values: list[float], decimals: int | None) -> None:
    expected = None if decimals is None else Packing(decimals)
    assert pack_decimal(values) == expected


EDGES = [0.0, -0.0, 5e-324, -1e-9, 0.5, 1.5, 2.0**31 - 1, -(2.0**31), 214.7483648, 1e308, np.inf]


@given(
    st.integers(0, 7),
    st.sampled_from(EDGES) | st.floats(allow_nan=False) | st.decimals(-300, 300, places=5),
)
def test_packed_is_what_python_writes_with_so_many_decimals(decimals: int, value: float) -> None:
    """Python's text of a number is correctly rounded, so it tells without us what is a multiple."""
    value = float(value)
    text = f"{value:.{decimals}f}"
    exact = np.isfinite(value) and float(text) == value and str(value) != "-0.0"
    if exact and abs(whole := int(text.replace(".", ""))) < 2**31:
        assert Packing(decimals).encode(np.array([value, np.nan])).tolist() == [whole, PACKED_FILL]
    else:
        with pytest.raises(ArchiveError, match="not exact"):
            Packing(decimals).encode(np.array([value, np.nan]))


def test_one_value_with_more_decimals_is_not_overlooked() -> None:
    values = np.round(np.linspace(0, 9, 44640), 2)
    values[-3] = 0.1234567
    assert pack_decimal(values) == Packing(7)


def test_missing_is_the_fill_value_and_comes_back() -> None:
    stored = Packing(1).encode(np.array([0.3, np.nan]))
    assert stored.tolist() == [3, PACKED_FILL]
    assert np.array_equal(Packing(1).decode(stored), [0.3, np.nan], equal_nan=True)


def test_packing_that_would_lose_is_refused() -> None:
    with pytest.raises(ArchiveError, match="not exact with 1 decimals"):
        Packing(1).encode(np.array([0.25]))


def test_division_not_multiplication() -> None:
    """0.3 is 3 / 10 exactly, but 3 * 0.1 is another double."""
    assert Packing(1).decode(np.array([3]))[0] == 0.3
    assert 3 * Packing(1).scale_factor != 0.3


def test_quantize_to_multiples_of_a_power_of_two() -> None:
    values = np.array([1.0, 1.003, 1.0051, -0.001, np.nan, np.inf])
    rounded = quantize(values, 2.0**-7)
    assert np.array_equal(rounded, [1, 1, 1.0078125, 0, np.nan, np.inf], equal_nan=True)
    assert not np.signbit(rounded[3])
    assert np.array_equal(rounded, rounded.astype(np.float32).astype(float), equal_nan=True)


@pytest.mark.parametrize("step", [0.0, -0.5, 0.3, np.nan, np.inf])
def test_quantize_refuses_other_steps(step: float) -> None:
    with pytest.raises(ValueError, match=r"power of two such as 2\*\*-7 \(got"):
        quantize([1.0], step)


@pytest.mark.parametrize(
    ("data", "dtype", "message"),
    [
        (np.array([1.5]), "i4", "x: fractions or NaN in type i4"),
        (np.array([np.nan]), "i4", "x: fractions or NaN in type i4"),
        (np.array([2**31]), "i4", "x: values beyond the range of i4"),
        (np.array([-129]), "i1", "x: values beyond the range of i1"),
        (np.array([[1]]), "i4", r"x: data have 2 dimensions, 1 are named \(time\)"),
    ],
)
def test_data_that_do_not_fit_are_refused(data: np.ndarray, dtype: str, message: str) -> None:
    with pytest.raises(ArchiveError, match=message):
        VariableSpec("x", ("time",), data, {}, dtype)


def test_text_is_padded_to_the_longest_in_bytes() -> None:
    characters = text_bytes(np.array(["ab", "", "ø"]))
    assert characters.tolist() == [[b"a", b"b"], [b"", b""], [b"\xc3", b"\xb8"]]
    assert text_bytes(np.array([""])).shape == (1, 1)
    assert text_bytes(np.array([], str)).shape == (0, 1)
