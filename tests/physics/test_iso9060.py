"""The class tables: numbers quoted from the standard and its predecessor, and their order."""

from __future__ import annotations

from dataclasses import astuple, fields

import numpy as np
import pytest

from sunledger.physics.iso9060 import (
    MEMORY,
    PYRANOMETER_CLASSES,
    PYRANOMETER_KNOWN_FROM,
    PYRHELIOMETER_CLASSES,
    PYRHELIOMETER_KNOWN_FROM,
    QUOTED,
    SENSITIVITY_RANGES,
    PyranometerClass,
    PyrheliometerClass,
    sensitivity_is_typical,
)

# WMO-No. 8 (1996), pyranometer table, high / good / moderate quality, quoted in a manual p. 49:
# the limits that ISO 9060:2018 kept for its classes A / B / C
WMO_TABLE = {
    "zero_offset_a": (7, 15, 30),
    "zero_offset_b": (2, 4, 8),
    "non_stability": (0.8, 1.5, 3.0),
    "directional": (10, 20, 30),
    "non_linearity": (0.5, 1, 3),
    "tilt": (0.5, 2, 5),
}


@pytest.mark.parametrize("name", WMO_TABLE)
def test_limits_shared_with_the_wmo_guide(name):
    got = tuple(getattr(PYRANOMETER_CLASSES[letter], name) for letter in "ABC")
    assert got == WMO_TABLE[name]
    assert PYRANOMETER_KNOWN_FROM[name] == QUOTED


@pytest.mark.parametrize("classes", [PYRANOMETER_CLASSES, PYRHELIOMETER_CLASSES])
def test_better_classes_are_tighter(classes):
    """Every limit grows from class to class."""
    rows = np.array([astuple(row) for row in classes.values()], dtype=float)
    steps = np.diff(rows, axis=0)
    assert np.all((steps > 0) | np.isnan(steps))


def test_total_offset_holds_its_parts():
    """The total zero offset is at least a plus b, within what is left for others."""
    for row in PYRANOMETER_CLASSES.values():
        assert row.zero_offset_a + row.zero_offset_b < row.total_zero_offset


def test_every_number_says_how_it_is_known():
    assert set(PYRANOMETER_KNOWN_FROM) == {f.name for f in fields(PyranometerClass)}
    assert set(PYRHELIOMETER_KNOWN_FROM) == {f.name for f in fields(PyrheliometerClass)}
    assert set(PYRANOMETER_KNOWN_FROM.values()) == {QUOTED, MEMORY}
    assert set(PYRHELIOMETER_KNOWN_FROM.values()) == {MEMORY}


def test_typical_sensitivity():
    """8 µV is typical, a slip by a factor of 1000 or a NaN is not (common practice)."""
    for kind in set(SENSITIVITY_RANGES) - {"ultraviolet_sensor"}:
        assert sensitivity_is_typical(kind, 8.0)
        assert not sensitivity_is_typical(kind, 8000.0)
        assert not sensitivity_is_typical(kind, 0.008)
        assert not sensitivity_is_typical(kind, float("nan"))
    assert sensitivity_is_typical("pyrgeometer", 3.8)
    # amplified ultraviolet sensors give volts: the range is wide
    assert sensitivity_is_typical("ultraviolet_sensor", 8000.0)
    assert not sensitivity_is_typical("ultraviolet_sensor", 0.2)
    with pytest.raises(ValueError, match=r"one of .*pyrgeometer, .* \(got 'sundial'\)"):
        sensitivity_is_typical("sundial", 8.0)
