"""What a model refuses, in words for the person who wrote the file."""

from __future__ import annotations

import types
from collections.abc import Callable, Iterable, Mapping
from difflib import get_close_matches
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from sunledger.config.models.base import EntryError, EntryId, Month, Name, StationId
from sunledger.config.yaml_text import Loc, SourceLines, dotted, item_labels
from sunledger.errors import Fault

_PATTERNS = {
    Name.__metadata__[0].pattern: "must be a lower-case name such as global_1: letters, digits, _",  # type: ignore[attr-defined]
    StationId.__metadata__[0].pattern: "must be 2 to 12 lower-case letters or digits, letter first",  # type: ignore[attr-defined]
    Month.__metadata__[0].pattern: 'must be a month such as "2031-03"',  # type: ignore[attr-defined]
    EntryId.__metadata__[0].pattern: "must be letters, digits, '_', '.' or '-', no blanks",  # type: ignore[attr-defined]
}

_PLAIN = {
    "missing": "is missing",
    "string_type": "must be text",
    "int_type": "must be a whole number",
    "int_parsing": "must be a whole number",
    "int_from_float": "must be a whole number",
    "float_type": "must be a number",
    "bool_type": "must be true or false",
    "tuple_type": "must be a list",
    "list_type": "must be a list",
    "dict_type": "must be a mapping",
    "model_type": "must be a mapping",
    "model_attributes_type": "must be a mapping",
    "finite_number": "must be a finite number",
    "greater_than": "must be greater than {gt}",
    "greater_than_equal": "must be at least {ge}",
    "less_than": "must be less than {lt}",
    "less_than_equal": "must be at most {le}",
    "too_short": "needs at least {min_length} item(s)",
    "too_long": "takes at most {max_length} item(s)",
    "string_too_short": "must not be empty",
}


def model_faults(
    error: ValidationError, model: type[BaseModel], data: Any, source: SourceLines
) -> list[Fault]:
    """
    One fault for each thing a model refused.

    Parameters
    ----------
    error : ValidationError
        What the model raised.
    model : type of BaseModel
        The model.
    data : object
        The data as parsed.
    source : SourceLines
        Where each entry stands.

    Returns
    -------
    faults : list of Fault
        In the order of the model's fields.
    """
    labels = item_labels(data)
    faults = []
    for detail in error.errors(include_url=False):
        kind: Any = _inner_model(model, tuple(detail["loc"]))
        loc = _written_loc(tuple(detail["loc"]), data)
        loc = (*loc, *_loc_within(detail))
        why = _why(detail, kind) + _got(detail)
        faults.append(Fault(source.path, source.line(*loc), dotted(loc, labels), why))
    return faults


def _loc_within(detail: Any) -> Loc:
    """Rest of the location, where only the fault itself knows it."""
    if detail["type"] == "union_tag_invalid":
        return ("type",)
    cause = detail.get("ctx", {}).get("error")
    return cause.loc if isinstance(cause, EntryError) else ()


def nearest(word: str, known: tuple[str, ...]) -> str:
    """
    Hint at the known word that a mistyped one is nearest to.

    Parameters
    ----------
    word : str
        As written.
    known : tuple of str
        What could have been meant.

    Returns
    -------
    hint : str
        Such as ``; did you mean 'position'?``, or empty.
    """
    close = get_close_matches(word, known, n=1)
    return f"; did you mean {close[0]!r}?" if close else ""


def not_among(word: str, known: Iterable[str], none: str = "none") -> str:
    """
    Say what could have been written in place of an unknown word.

    Parameters
    ----------
    word : str
        As written.
    known : iterable of str
        What is allowed, in the order in which it is to be named.
    none : str
        What is said when nothing is.

    Returns
    -------
    words : str
        Such as ``allowed: global_1, direct_1; did you mean 'global_1'? (got globl_1)``.
    """
    words = tuple(known)
    return f"allowed: {', '.join(words) or none}{nearest(word, words)} (got {word})"


def _why(detail: Any, kind: Any) -> str:
    ctx: Mapping[str, Any] = detail.get("ctx", {})
    special: dict[str, Callable[[], str]] = {
        "value_error": lambda: str(ctx["error"]),
        "extra_forbidden": lambda: _unknown_field(str(detail["loc"][-1]), kind),
        "literal_error": lambda: _one_of(ctx["expected"], detail["input"]),
        "union_tag_invalid": lambda: _one_of(ctx["expected_tags"], ctx["tag"]),
        "union_tag_not_found": lambda: "'type' is missing; allowed: " + ", ".join(_tags(kind)),
        "string_pattern_mismatch": lambda: _PATTERNS.get(
            ctx["pattern"], f"must match {ctx['pattern']}"
        ),
    }
    if detail["type"] in special:
        return special[detail["type"]]()
    if detail["type"] in _PLAIN:
        return _PLAIN[detail["type"]].format(**ctx)
    return str(detail["msg"]).replace("Input should be", "must be")


def _one_of(expected: str, found: Any) -> str:
    words = tuple(expected.replace(" or ", ", ").replace("'", "").split(", "))
    return f"must be one of {', '.join(words)}{nearest(str(found), words)}"


def _unknown_field(word: str, kind: Any) -> str:
    fields = kind.model_fields if _is_model(kind) else {}
    known = tuple(f.alias or n for n, f in fields.items())
    return f"unknown field; allowed: {', '.join(known)}{nearest(word, known)}"


def _got(detail: Any) -> str:
    """What was found, unless the message says so or it is a whole block."""
    value = detail["input"]
    silent = ("missing", "extra_forbidden", "value_error", "union_tag_not_found")
    if detail["type"] == "union_tag_invalid":
        return f" (got {detail['ctx']['tag']!r})"
    if detail["type"] in silent or detail["type"].startswith("too_"):
        return ""
    if isinstance(value, dict | list):
        return f" (got {'a mapping' if isinstance(value, dict) else 'a list'})"
    if value is None:
        return " (got nothing)"
    text = f"{value!r:.60}" if not isinstance(value, bool) else str(value).lower()
    # A number where text is wanted is a serial number or a name that has only digits.
    quoted = detail["type"] == "string_type" and not isinstance(value, bool)
    return f' (got {text}; quote it: "{value}")' if quoted else f" (got {text})"


def _written_loc(loc: Loc, data: Any) -> Loc:
    """Keys and indices as in the file: without the names of union members and of key checks."""
    written: list[str | int] = []
    fresh = True
    for step in loc:
        if isinstance(data, dict) and fresh and step == data.get("type"):
            fresh = False
            continue
        if step == "[key]":
            break
        written.append(step)
        data = _child(data, step)
        fresh = True
    return tuple(written)


def _child(data: Any, step: str | int) -> Any:
    if isinstance(data, dict):
        return data.get(str(step))
    if isinstance(data, list) and isinstance(step, int) and step < len(data):
        return data[step]
    return None


def _is_model(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _bare(kind: Any) -> Any:
    """A type without annotations and without None, where that leaves a single one."""
    while get_origin(kind) is Annotated:
        kind = get_args(kind)[0]
    members = _members(kind)
    return _bare(members[0]) if len(members) == 1 else kind


def _members(kind: Any) -> list[Any]:
    if get_origin(kind) not in (Union, types.UnionType):
        return []
    return [_bare(member) for member in get_args(kind) if member is not type(None)]


def _member_tags(member: Any) -> tuple[str, ...]:
    tag = member.model_fields.get("type") if _is_model(member) else None
    return get_args(tag.annotation) if tag and get_origin(tag.annotation) is Literal else ()


def _tags(kind: Any) -> tuple[str, ...]:
    return tuple(tag for member in _members(_bare(kind)) for tag in _member_tags(member))


def _step_into(kind: Any, step: str | int) -> Any:
    """Type of the entry at one step of a fault's location, None where there is none."""
    kind = _bare(kind)
    if _is_model(kind):
        fields = kind.model_fields.items()
        return next((f.annotation for n, f in fields if step in (n, f.alias)), None)
    arguments, origin = get_args(kind), get_origin(kind)
    if origin is dict:
        return arguments[1]
    if origin in (tuple, list):
        fixed = isinstance(step, int) and Ellipsis not in arguments and step < len(arguments)
        return arguments[int(step) if fixed else 0]
    return next((m for m in _members(kind) if step in _member_tags(m)), None)


def _inner_model(model: type[BaseModel], loc: Loc) -> Any:
    """Model that holds the last step of a location; for a union itself, the union."""
    kind: Any = model
    holder: Any = model
    for step in loc:
        holder = kind
        kind = _step_into(kind, step)
    return _bare(kind) if _members(_bare(kind)) else _bare(holder)
