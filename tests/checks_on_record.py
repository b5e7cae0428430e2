"""Clock and level checks of the invented station, as its field log has them."""

from __future__ import annotations

from typing import Any


def clock(name: str, time: str, found: float, left: float | None = None) -> dict[str, Any]:
    """A clock check of the invented logger."""
    entry = {"id": name, "type": "clock_check", "time": time, "logger": "main", "found": found}
    return {**entry, "role": "technician"} | ({} if left is None else {"left": left})


def level(name: str, time: str, found: float, left: float | None = None) -> dict[str, Any]:
    """A level check of the global."""
    entry = {"id": name, "type": "level_check", "time": time, "position": "global_1"}
    sizes = {"found": {"size": found}} | ({} if left is None else {"left": {"size": left}})
    return {**entry, **sizes, "role": "technician"}
