"""Variables of the voltage product: readings as logged, in file order, without loss."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from sunledger.archive.conventions import COORDINATES, EPOCH
from sunledger.archive.specification import Attribute, VariableSpec, pack_decimal

LINE_STATUS: dict[str, int] = {"kept": 0, "conflicting": 1}
_METHODS = {
    "mean": "mean",
    "min": "minimum",
    "max": "maximum",
    "std": "standard_deviation",
}
_TEMPERATURES = ("K", "degC")


@dataclass(frozen=True)
class ChannelNotes:
    """
    What is said about one channel.

    Parameters
    ----------
    long_name : str
        What it is.
    unit : str
        Unit as logged.
    statistic : str
        ``mean``, ``min``, ``max`` or ``std``.
    position : str
        Position of the instrument, for which the file has an `instrument_container`.
    meanings : dict
        Status channels: code → word.
    standard_name : str
        For air data.
    """

    long_name: str
    unit: str
    statistic: str = "mean"
    position: str = ""
    meanings: Mapping[int, str] = field(default_factory=dict)
    standard_name: str = ""


def reading_dimension(logger: str) -> str:
    """
    Name of the dimension of a logger's readings.

    Parameters
    ----------
    logger : str
        Name of the logger.

    Returns
    -------
    dimension : str
        ``reading_<logger>``.
    """
    return f"reading_{logger}"


def logger_time(logger: str, labels: npt.ArrayLike) -> VariableSpec:
    """
    Labels as logged.

    Parameters
    ----------
    logger : str
        Name of the logger.
    labels : array-like of int, shape (reading,)
        In file order; may fall, repeat and jump. [s since 1970-01-01 in the logger's own clock]

    Returns
    -------
    variable : VariableSpec
        ``logger_time_<logger>``, an auxiliary coordinate: a coordinate variable would have to rise.
    """
    attributes: dict[str, Attribute] = {
        "standard_name": "time",
        "long_name": f"time label as logged, in the clock and zone of logger {logger}",
        "units": EPOCH,
        "calendar": "standard",
        "axis": "T",
        "comment": (
            "not UTC: no zone, clock error or label convention has been applied; rows stand in the"
            " order of the raw files, so that labels may repeat or step back"
        ),
        "coverage_content_type": "coordinate",
    }
    dimension = reading_dimension(logger)
    return VariableSpec(f"logger_time_{logger}", (dimension,), labels, attributes, "i8")  # type: ignore[arg-type]


def line_variables(
    logger: str, status: npt.ArrayLike, source_file: npt.ArrayLike, source_line: npt.ArrayLike
) -> tuple[VariableSpec, ...]:
    """
    Where each reading comes from and what became of it.

    Parameters
    ----------
    logger : str
        Name of the logger.
    status : array-like of int, shape (reading,)
        Values of `LINE_STATUS`.
    source_file : array-like of int, shape (reading,)
        Row of the table of source files, counted from 0.
    source_line : array-like of int, shape (reading,)
        Line of that file, counted from 1.

    Returns
    -------
    variables : tuple of VariableSpec
        ``line_status_<logger>``, ``source_file_<logger>``, ``source_line_<logger>``.
    """
    flags: dict[str, Attribute] = {
        "standard_name": "status_flag",
        "flag_values": np.array(list(LINE_STATUS.values()), np.int8),
        "flag_meanings": " ".join(LINE_STATUS),
        "comment": (
            "conflicting: the label had already been delivered with other values; the first reading"
            " is kept"
        ),
    }
    rows: tuple[tuple[str, npt.ArrayLike, str, str, dict[str, Attribute]], ...] = (
        ("line_status", status, "i1", "what became of the raw line", flags),
        ("source_file", source_file, "i4", "row of the raw file in the source table, from 0", {}),
        ("source_line", source_line, "i4", "line of the raw file, from 1", {}),
    )
    return tuple(
        VariableSpec(
            f"{name}_{logger}",
            (reading_dimension(logger),),
            np.asarray(values),
            {
                "long_name": f"{text}, logger {logger}",
                **(more or {"units": "1"}),
                **_shared(logger),
            },
            dtype,
        )
        for name, values, dtype, text, more in rows
    )


def _shared(logger: str) -> dict[str, Attribute]:
    return {
        "coordinates": f"logger_time_{logger} {COORDINATES}",
        "grid_mapping": "crs",
        "coverage_content_type": "auxiliaryInformation",
    }


def channel(name: str, logger: str, values: npt.ArrayLike, notes: ChannelNotes) -> VariableSpec:
    """
    One channel as logged, packed as exact decimals where that loses nothing.

    Parameters
    ----------
    name : str
        Variable name.
    logger : str
        Name of the logger.
    values : array-like of float64, shape (reading,)
        In the unit logged; NaN missing, infinite beyond the logger's range.
    notes : ChannelNotes
        What is said about it.

    Returns
    -------
    variable : VariableSpec
        int32 with scale factor, or float64.
    """
    data = np.asarray(values, np.float64)
    packing = pack_decimal(data)
    coded = packing is not None and packing.decimals == 0
    attributes = {**_channel_attributes(notes, coded), **_shared(logger)}
    dimensions = (reading_dimension(logger),)
    if packing is None:
        return VariableSpec(name, dimensions, data, attributes, "f8", np.nan)
    return VariableSpec(name, dimensions, data, attributes, "i4", None, packing)


def _channel_attributes(notes: ChannelNotes, coded: bool) -> dict[str, Attribute]:
    attributes: dict[str, Attribute] = {
        "standard_name": notes.standard_name,
        "long_name": notes.long_name,
        "units": "" if notes.meanings else notes.unit,
        "units_metadata": _temperature(notes),
        "cell_methods": "" if notes.meanings else _cell_methods(notes),
        "instrument": f"instrument_{notes.position}" if notes.position else "",
    }
    kept = {key: value for key, value in attributes.items() if value != ""}
    return {**kept, **_meanings(notes.meanings, coded)}


def _cell_methods(notes: ChannelNotes) -> str:
    return f"time: {_METHODS[notes.statistic]}"


def _temperature(notes: ChannelNotes) -> str:
    if notes.unit not in _TEMPERATURES:
        return ""
    return f"temperature: {'difference' if notes.statistic == 'std' else 'on_scale'}"


def _meanings(meanings: Mapping[int, str], coded: bool) -> dict[str, Attribute]:
    if not meanings:
        return {}
    words = " ".join(meanings.values())
    if not coded:
        # Codes with decimals cannot be flag values of a packed type; the words are still told.
        pairs = ", ".join(f"{code}: {word}" for code, word in meanings.items())
        return {"units": "1", "comment": f"codes {pairs}"}
    return {
        "standard_name": "status_flag",
        "flag_values": np.array(list(meanings), np.int32),
        "flag_meanings": words,
    }
