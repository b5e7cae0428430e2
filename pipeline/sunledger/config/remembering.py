"""Results of pure functions of the configuration, computed once for the same objects."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar, cast

Function = TypeVar("Function", bound=Callable[..., Any])


def remembered(most: int) -> Callable[[Function], Function]:
    """
    Make a pure function give the same result again for the very same objects.

    Parameters
    ----------
    most : int
        Results that are kept; the oldest goes first.

    Returns
    -------
    decorator : callable
        Of a function of positional arguments. Texts and whole numbers are compared by value; all
        else by identity, which is safe for frozen models and much cheaper than comparing them.
        The result is shared by all callers, who must not change it.
    """

    def decorate(function: Function) -> Function:
        # the arguments are held, so that no other object can take over an identity
        held: dict[tuple[Any, ...], tuple[tuple[Any, ...], Any]] = {}

        @wraps(function)
        def recalled(*words: Any) -> Any:
            key = tuple(w if isinstance(w, str | int) else (id(w),) for w in words)
            if key not in held:
                held[key] = words, function(*words)
                while len(held) > most:
                    del held[next(iter(held))]
            return held[key][1]

        return cast(Function, recalled)

    return decorate
