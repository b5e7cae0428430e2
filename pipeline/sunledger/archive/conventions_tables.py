"""Tables inside a file: groups under the one top-level group ``metadata``."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from sunledger.archive.specification import Array, Attribute, GroupSpec, VariableSpec

EPOCH = "seconds since 1970-01-01 00:00:00"


def table(name: str, title: str, columns: Sequence[VariableSpec], comment: str = "") -> GroupSpec:
    """
    A table as a group.

    Parameters
    ----------
    name : str
        Name of the group.
    title : str
        What the rows are.
    columns : sequence of VariableSpec
        From `column`, all of the same length.
    comment : str
        Which rows are given.

    Returns
    -------
    group : GroupSpec
        To be placed in `metadata_group`.
    """
    attributes = {"title": title, "comment": comment} if comment else {"title": title}
    return GroupSpec(name, tuple(columns), attributes)


def column(
    row: str,
    name: str,
    values: npt.ArrayLike,
    long_name: str,
    **attributes: Attribute,
) -> VariableSpec:
    """
    One column of a table.

    Parameters
    ----------
    row : str
        Dimension of the rows; another name than any dimension of the root.
    name : str
        Name of the column.
    values : array-like, shape (rows,)
        Texts, integers, or floats with NaN for missing.
    long_name : str
        What it is.
    **attributes : str or number
        Further attributes such as ``units``.

    Returns
    -------
    variable : VariableSpec
        The column.
    """
    data: Array = np.asarray(values)
    fill = np.nan if data.dtype.kind == "f" else None
    every: dict[str, Attribute] = {"long_name": long_name, **attributes}
    return VariableSpec(name, (row,), data, every, "", fill)


def time_column(
    row: str, name: str, values: npt.ArrayLike, long_name: str, comment: str = ""
) -> VariableSpec:
    """
    A column of instants.

    Parameters
    ----------
    row : str
        Dimension of the rows.
    name : str
        Name of the column.
    values : array-like, shape (rows,)
        NaN where open. [s since 1970-01-01 UTC]
    long_name : str
        What happened then.
    comment : str
        What a missing value means.

    Returns
    -------
    variable : VariableSpec
        The column. It bears no ``calendar``: with it a column that is missing throughout cannot be
        written back by common readers.
    """
    data = np.asarray(values, np.float64)
    extra: dict[str, Attribute] = {"comment": comment} if comment else {}
    return column(row, name, data, long_name, units=EPOCH, **extra)


def metadata_group(tables: Sequence[GroupSpec]) -> GroupSpec:
    """
    The one top-level group.

    Parameters
    ----------
    tables : sequence of GroupSpec
        From `table`.

    Returns
    -------
    group : GroupSpec
        ``metadata``.
    """
    return GroupSpec(
        "metadata",
        (),
        {
            "title": "Instrument history and processing provenance",
            "comment": "tables; they describe this file and are not time series",
        },
        tuple(tables),
    )
