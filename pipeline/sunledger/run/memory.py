"""Memory that was freed and is still held by the C library, given back to the system."""

from __future__ import annotations

import ctypes

__all__ = ["give_back"]


def give_back() -> bool:
    """
    Return freed pages to the system, also those between others that are in use.

    Returns
    -------
    given : bool
        Whether there was anything to give. False where the C library has no such call: only the
        GNU one has.

    Notes
    -----
    Takes milliseconds. Arrays of a month are freed and reused within a task, so that between tasks
    of another kind tens of megabytes lie idle.
    """
    try:
        trim = ctypes.CDLL(None).malloc_trim
    except (AttributeError, OSError, TypeError):
        return False
    return bool(trim(0))
