"""What a NetCDF file shall hold, said in data: variables, groups, file, and lossless packing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.errors import ArchiveError

Array = npt.NDArray[Any]
Attribute = str | int | float | np.generic | Array | tuple[int, ...] | tuple[float, ...]

PACKED_FILL = np.int32(-(2**31))
MOST_DECIMALS = 7
TEXT = "text"
OWN_ATTRIBUTES = ("_FillValue", "_Encoding", "scale_factor")
"""Put by the library or said by fields of the specification, so never among ``attributes``."""
_POWERS = 10.0 ** np.arange(MOST_DECIMALS + 1)
_PROBE = 64  # values tried first: one value with many decimals settles the question early


@dataclass(frozen=True)
class Packing:
    """
    Storage of decimal numbers as 32-bit integers.

    Parameters
    ----------
    decimals : int
        Number of decimals kept, 0 to 7.
    """

    decimals: int

    @property
    def scale_factor(self) -> float:
        """
        Value of one step of the stored integer, as CF wants it.

        Returns
        -------
        scale_factor : float
            ``10**-decimals``.
        """
        return float(10.0**-self.decimals)

    def encode(self, values: Array) -> npt.NDArray[np.int32]:
        """
        Integers that stand for decimal numbers.

        Parameters
        ----------
        values : numpy.ndarray of float64
            Values; NaN is missing.

        Returns
        -------
        stored : numpy.ndarray of int32, same shape
            Missing is `PACKED_FILL`.

        Raises
        ------
        ArchiveError
            If a value is no multiple of the step, infinite or too large.
        """
        values = np.asarray(values, np.float64)
        whole = _whole(values.ravel(), self.decimals)
        if whole is None:
            raise ArchiveError(f"values are not exact with {self.decimals} decimals in 32 bits")
        whole[np.isnan(whole)] = float(PACKED_FILL)
        return whole.astype(np.int32).reshape(values.shape)

    def decode(self, stored: Array) -> npt.NDArray[np.float64]:
        """
        Decimal numbers from stored integers, bit for bit what was encoded.

        Parameters
        ----------
        stored : numpy.ndarray of int32
            Raw values of the file.

        Returns
        -------
        values : numpy.ndarray of float64, same shape
            NaN where missing.

        Notes
        -----
        Divides by ``10**decimals``: the quotient is correctly rounded, as is a number read from
        text, while a product with the inexact ``10**-decimals`` may differ in the last bit.
        """
        values: npt.NDArray[np.float64] = np.asarray(stored) / _POWERS[self.decimals]
        values[np.asarray(stored) == PACKED_FILL] = np.nan
        return values


def pack_decimal(values: npt.ArrayLike) -> Packing | None:
    """
    Smallest packing that stores every value without loss.

    Parameters
    ----------
    values : array-like of float64
        Values as logged; NaN is missing.

    Returns
    -------
    packing : Packing or None
        None when some value needs more than 7 decimals or 32 bits, is infinite, or is a negative
        zero (an integer has no sign on its zero): such a series is stored as float64.
    """
    array = np.asarray(values, np.float64).ravel()
    probe = array[:: max(1, array.size // _PROBE)]
    for decimals in range(MOST_DECIMALS + 1):
        if _whole(probe, decimals) is not None and _whole(array, decimals) is not None:
            return Packing(decimals)
    return None


def _whole(values: Array, decimals: int) -> npt.NDArray[np.float64] | None:
    """Whole numbers that are the values in steps, NaN where missing; None if some value is none."""
    power = _POWERS[decimals]
    with np.errstate(invalid="ignore", over="ignore"):
        whole: npt.NDArray[np.float64] = np.multiply(values, power)
        np.rint(whole, out=whole)
        whole += 0.0  # no minus zero: an integer has no sign on its zero
        back = whole / power
        # as bits, so that a minus zero among the values is not taken for what comes back
        fits = back.view(np.int64) == values.view(np.int64)
        fits &= np.abs(whole, out=back) < 2.0**31
    fits |= np.isnan(values)
    return whole if fits.all() else None


def packing_of(dtype: np.dtype[Any], attributes: Mapping[str, Any]) -> Packing | None:
    """
    How a variable of a file is packed.

    Parameters
    ----------
    dtype : numpy.dtype
        Type as stored.
    attributes : dict
        With ``_FillValue`` and ``scale_factor`` where the variable has them.

    Returns
    -------
    packing : Packing or None
        None for variables that are stored as they are.
    """
    fill = attributes.get("_FillValue")
    if dtype != np.int32 or fill is None or np.ravel(fill)[0] != PACKED_FILL:
        return None
    step = float(np.ravel(attributes.get("scale_factor", 1.0))[0])
    return Packing(int(np.rint(-np.log10(step))))


def quantize(values: npt.ArrayLike, step: float) -> npt.NDArray[np.float64]:
    """
    Values rounded to multiples of a power of two.

    Parameters
    ----------
    values : array-like of float
        Values; NaN and infinities pass.
    step : float
        Power of two, in the unit of the values.

    Returns
    -------
    rounded : numpy.ndarray of float64
        Nearest multiples; ties go to the even one.

    Raises
    ------
    ValueError
        If ``step`` is no positive power of two: only then is every multiple exact.
    """
    if not (step > 0 and np.frexp(step)[0] == 0.5):
        raise ValueError(f"step must be a power of two such as 2**-7 (got {step!r})")
    # Minus zero would store a sign that says nothing.
    rounded: npt.NDArray[np.float64] = np.rint(np.asarray(values, np.float64) / step) * step + 0.0
    return rounded


@dataclass(frozen=True, eq=False)
class VariableSpec:
    """
    One variable: its data already in the type in which it is stored.

    Parameters
    ----------
    name : str
        Name in the file.
    dimensions : tuple of str
        Names of the dimensions; for text without the one of the characters.
    data : numpy.ndarray
        Values, converted to ``dtype``; for packed variables float64 with NaN; for text an array of
        str.
    attributes : dict
        Attributes in order, without ``_FillValue``, ``scale_factor``, ``_Encoding``.
    dtype : str, optional
        ``f4``, ``f8``, ``i1``, ``i2``, ``i4``, ``i8`` or ``text``; by default the type of the data.
    fill_value : float or int, optional
        ``_FillValue``.
    packing : Packing, optional
        Stored as 32-bit integers that are exact decimals.

    Raises
    ------
    ArchiveError
        If shape and dimensions disagree, or an integer type cannot hold the data.
    """

    name: str
    dimensions: tuple[str, ...]
    data: Array
    attributes: Mapping[str, Attribute] = field(default_factory=dict)
    dtype: str = ""
    fill_value: float | int | None = None
    packing: Packing | None = None

    def __post_init__(self) -> None:
        data = np.asarray(self.data)
        dtype = self.dtype or (TEXT if data.dtype.kind in "OUS" else data.dtype.str[1:])
        object.__setattr__(self, "dtype", dtype)
        object.__setattr__(self, "data", self._stored_type(data))
        if data.ndim != len(self.dimensions):
            raise ArchiveError(
                f"variable {self.name}: data have {data.ndim} dimensions,"
                f" {len(self.dimensions)} are named ({', '.join(self.dimensions)})"
            )

    def _stored_type(self, data: Array) -> Array:
        if self.dtype == TEXT:
            return data.astype(object).astype(np.str_) if data.size else data.astype(np.str_)
        wanted = np.dtype(np.float64 if self.packing else self.dtype)
        if data.dtype == wanted:
            return np.ascontiguousarray(data).reshape(data.shape)
        if wanted.kind in "iu" and data.size:
            self._check_integers(data, np.iinfo(wanted))
        with np.errstate(over="ignore"):
            return np.ascontiguousarray(data, wanted).reshape(data.shape)

    def _check_integers(self, data: Array, limits: np.iinfo[Any]) -> None:
        if data.dtype.kind == "b":
            return
        if data.dtype.kind == "f" and not np.all(data == np.rint(data)):
            raise ArchiveError(f"variable {self.name}: fractions or NaN in type {self.dtype}")
        if data.min() < limits.min or data.max() > limits.max:
            raise ArchiveError(f"variable {self.name}: values beyond the range of {self.dtype}")


@dataclass(frozen=True, eq=False)
class GroupSpec:
    """
    A group of variables whose dimensions follow from the shapes of its variables.

    Parameters
    ----------
    name : str
        Name of the group.
    variables : tuple of VariableSpec
        In the order in which they are written.
    attributes : dict
        Attributes of the group.
    groups : tuple of GroupSpec
        Groups inside.
    """

    name: str
    variables: tuple[VariableSpec, ...] = ()
    attributes: Mapping[str, Attribute] = field(default_factory=dict)
    groups: tuple[GroupSpec, ...] = ()


@dataclass(frozen=True, eq=False)
class FileSpec:
    """
    A whole file.

    Parameters
    ----------
    attributes : dict
        Global attributes in order.
    dimensions : dict
        Name → length of the root's dimensions in order; those of text widths are added on writing.
    variables : tuple of VariableSpec
        Root variables in order.
    groups : tuple of GroupSpec
        Top-level groups; one at most (two crash a check of compliance-checker 6.1.0).
    """

    attributes: Mapping[str, Attribute]
    dimensions: Mapping[str, int]
    variables: tuple[VariableSpec, ...]
    groups: tuple[GroupSpec, ...] = ()

    @property
    def nbytes(self) -> int:
        """
        Memory that the values of the root variables take.

        Returns
        -------
        nbytes : int
            Unpacked; tables in groups are small beside them. [byte]
        """
        return sum(variable.data.nbytes for variable in self.variables)

    def __getitem__(self, name: str) -> VariableSpec:
        for variable in self.variables:
            if variable.name == name:
                return variable
        raise KeyError(name)


def text_bytes(texts: Array) -> Array:
    """
    Fixed-width UTF-8 characters of texts.

    Parameters
    ----------
    texts : numpy.ndarray of str
        Any shape.

    Returns
    -------
    characters : numpy.ndarray of S1, shape (..., width)
        Padded with NUL; the width is that of the longest text, at least 1.
    """
    encoded = np.char.encode(np.asarray(texts, np.str_), "utf-8")
    width = max(1, encoded.dtype.itemsize if encoded.size else 1)
    padded = np.ascontiguousarray(encoded.astype(f"S{width}"))
    return padded.reshape(-1).view("S1").reshape((*np.shape(texts), width))


def text_of(characters: Array) -> Array:
    """
    Texts from fixed-width UTF-8 characters.

    Parameters
    ----------
    characters : numpy.ndarray of S1, shape (..., width)
        As from `text_bytes`.

    Returns
    -------
    texts : numpy.ndarray of str, shape (...)
        Without the padding.
    """
    width = characters.shape[-1]
    joined = np.ascontiguousarray(characters).reshape(-1).view(f"S{width}")
    texts: Array = np.char.decode(joined, "utf-8").reshape(characters.shape[:-1])
    return texts


def raw_values(variable: VariableSpec) -> Array:
    """
    Values as they stand in the file.

    Parameters
    ----------
    variable : VariableSpec
        The variable.

    Returns
    -------
    raw : numpy.ndarray
        Packed integers, characters, or the data themselves.
    """
    if variable.dtype == TEXT:
        return text_bytes(variable.data)
    if variable.packing is not None:
        return variable.packing.encode(variable.data)
    return variable.data
