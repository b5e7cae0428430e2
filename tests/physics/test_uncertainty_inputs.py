"""Default budgets from ISO classes."""

from __future__ import annotations

import pytest

from sunledger.physics.uncertainty_inputs import (
    PERIODS,
    SCALE_UNCERTAINTY,
    changed,
    pyranometer_components,
    pyrgeometer_components,
    pyrheliometer_components,
)


def widths(components) -> dict[str, float]:  # type: ignore[no-untyped-def]
    return {c.name: c.width for c in components}


def test_pyranometer_class_a() -> None:
    """The class limits of ISO 9060:2018 as the reference lists them (partly from memory)."""
    got = widths(pyranometer_components("A", 1.2))
    expected = {
        "calibration": 1.2,
        "non_stability": 0.8,
        "non_linearity": 0.5,
        "temperature": 1,
        "spectral": 0.5,
        "directional": 10,
        "zero_offset_a": 7,
        "zero_offset_b": 2,
        "zero_offset_other": 1,
    }
    assert {n: got[n] for n in expected} == expected


def test_pyrheliometer_class_a() -> None:
    """ISO 9060:2018, from memory."""
    got = widths(pyrheliometer_components("A", 0.8))
    assert (got["non_stability"], got["non_linearity"], got["temperature"]) == (0.5, 0.2, 0.5)
    assert (got["zero_offset_b"], got["zero_offset_other"]) == (1, 1)


def test_every_component_says_where_it_comes_from() -> None:
    """Source and period of each; numbers remembered or without a source are marked so."""
    for budget in (
        pyranometer_components("C", 3.0),
        pyrheliometer_components("B", 1.0),
        pyrgeometer_components(4.0),
    ):
        for component in budget:
            assert component.common in PERIODS
            marks = ("(quoted)", "(memory)", "no published source", "certificate")
            assert any(mark in component.source for mark in marks) or "WCRP" in component.source
            assert component.reduced_by
        names = [c.name for c in budget]
        assert len(names) == len(set(names))


def test_uncertainty_of_the_scale() -> None:
    """WMO-No. 8, ch. 7 (quoted): within 0.3 % at a level of 99 %, a factor of 2.576."""
    assert pytest.approx(0.3 / 2.576, abs=0.0005) == SCALE_UNCERTAINTY


def test_unknown_classes() -> None:
    with pytest.raises(ValueError, match=r"iso_class must be one of A, B, C \(got 'AA'\)"):
        pyranometer_components("AA", 1.0)
    with pytest.raises(ValueError, match=r"iso_class must be one of AA, A, B, C \(got 'D'\)"):
        pyrheliometer_components("D", 1.0)


def test_changed_widths() -> None:
    """One replaced, the others kept; a name that is none is refused."""
    before = pyrgeometer_components(4.0)
    after = widths(changed(before, window=1.0))
    assert after == widths(before) | {"window": 1.0}
    with pytest.raises(ValueError, match="no component windows; allowed: calibration,"):
        changed(before, windows=1.0)


def test_how_long_an_error_lasts_is_said() -> None:
    """By its period; a shift in time lasts but for what the unrest of the light makes of it."""
    said = {c.name: c.lasts for c in pyranometer_components("A", 1.2)}
    assert said["calibration"] == PERIODS["calibration"]
    assert said["maintenance"] == "common to a day"
    assert said["clock"].startswith("lasting shift")
