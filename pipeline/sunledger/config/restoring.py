"""The resolved configuration of a period back from the plain data that a manifest keeps.

So a published file can be followed to its readings with nothing but the archive, whatever has since
become of the configuration.
"""

from __future__ import annotations

import types
from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from pydantic import BaseModel, ValidationError

from sunledger.config.resolve import Period
from sunledger.errors import ArchiveError

T = TypeVar("T")


def restored_period(plain: Mapping[str, Any]) -> Period:
    """
    A period as it was when a file was made.

    Parameters
    ----------
    plain : dict
        ``resolved_configuration`` of the manifest of a minute file.

    Returns
    -------
    period : Period
        The settings of other stages stand at their defaults.

    Raises
    ------
    ArchiveError
        If the data are not those of a period, such as in a manifest of another version.
    """
    try:
        return restored(Period, plain)
    except (KeyError, TypeError, ValueError, ValidationError) as error:
        raise ArchiveError(f"the resolved configuration cannot be read back: {error}") from error


def restored(kind: type[T], plain: Mapping[str, Any]) -> T:
    """
    A dataclass back from plain data.

    Parameters
    ----------
    kind : type
        The dataclass; its fields are scalars, tuples, dataclasses and configuration models.
    plain : dict
        Field → value. Names that are no field are passed over.

    Returns
    -------
    item : kind
        Equal to the one that was made plain.

    Raises
    ------
    KeyError
        If a field without default is missing.
    TypeError, ValueError
        If a value does not have the form of its field.
    """
    hints = get_type_hints(kind)
    values = {}
    for item in fields(kind):  # type: ignore[arg-type]
        if item.name in plain:
            values[item.name] = _value(hints[item.name], plain[item.name])
        elif item.default is MISSING and item.default_factory is MISSING:
            raise KeyError(item.name)
    return kind(**values)


def _value(hint: Any, plain: Any) -> Any:
    """A value in the form that its annotation asks for."""
    origin, inner = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        if plain is None:
            return None
        (hint,) = (h for h in inner if h is not type(None))
        return _value(hint, plain)
    if origin is tuple:
        if len(inner) == 2 and inner[1] is Ellipsis:
            return tuple(_value(inner[0], item) for item in plain)
        return tuple(_value(h, item) for h, item in zip(inner, plain, strict=True))
    if isinstance(hint, type) and issubclass(hint, BaseModel):
        return hint.model_validate(plain)
    if isinstance(hint, type) and is_dataclass(hint):
        return restored(hint, plain)
    return plain
