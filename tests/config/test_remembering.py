"""A result is computed once for the same objects, and anew for others that look alike."""

from __future__ import annotations

from sunledger.config.remembering import remembered


def test_by_identity_and_value() -> None:
    """Texts and numbers by value, other objects by identity."""
    calls: list[tuple[object, ...]] = []

    @remembered(10)
    def told(*words: object) -> int:
        calls.append(words)
        return len(calls)

    one, other = [1], [1]
    assert (told(one, "a" * 3), told(one, "".join("aaa")), told(other, "aaa")) == (1, 1, 2)
    assert told(one, "b") == 3
    assert told(id(one), "b") == 4, "a number is not taken for an identity"
    assert [len(c) for c in calls] == [2, 2, 2, 2]


def test_the_oldest_goes_first() -> None:
    """So that memory stays bounded; what was dropped is computed anew."""
    calls: list[int] = []

    @remembered(2)
    def told(number: int) -> int:
        calls.append(number)
        return number

    assert [told(n) for n in (1, 2, 3, 3, 2, 1)] == [1, 2, 3, 3, 2, 1]
    assert calls == [1, 2, 3, 1]
