"""Empty axes say why they are empty."""

from __future__ import annotations

from sunledger.report.axes import new_axes, say_empty


def test_axes_say_why() -> None:
    """One text, no line; every figure is its own."""
    figure, axes = new_axes(4.0, 3.0)
    say_empty(axes, "no minute")
    assert [t.get_text() for t in axes.texts] == ["no minute"]
    assert figure is not new_axes(4.0, 3.0)[0]
    assert tuple(figure.get_size_inches()) == (4.0, 3.0)
