"""Steps add up to the calibrated value, parts of the budget to the stated uncertainty."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from scipy import constants

from sunledger.run.explained_physics import physics_lines, uncertainty_lines
from sunledger.run.tracing import trace


def figures(lines: list[str], words: str) -> float:
    """The first number behind some words."""
    (line,) = (x for x in lines if x.startswith(words))
    return float(re.findall(r"[-+]?\d+\.?\d*", line[len(words) :])[0])


@pytest.mark.parametrize(
    ("quantity", "when"),
    [("ghi", "2031-04-11T10:17"), ("dhi", "2031-04-20T07:30"), ("dni", "2031-04-20T11:00")],
)
def test_steps_of_a_shortwave_value(sample_folder: Path, quantity: str, when: str) -> None:
    found = trace(
        sample_folder / "build/sample_archive",
        "osr",
        quantity,
        int(np.datetime64(when, "s").astype(int)),
    )
    lines = list(physics_lines(found))
    (used,) = (x for x in lines if "sensitivity in force" in x)
    voltage, sensitivity = (float(n) for n in re.findall(r"[-+]?\d+\.\d+", used))
    bare = figures(lines, "signal over sensitivity")
    assert bare == pytest.approx(voltage / sensitivity, abs=0.01)
    added = figures(lines, "temperature response")
    assert figures(lines, "calibrated") == pytest.approx(bare + added, abs=0.011)
    assert figures(lines, "calibrated") == pytest.approx(found.archived[quantity], abs=0.02)


def test_terms_of_a_longwave_value(sample_folder: Path) -> None:
    """The emission is that of CODATA's Stefan-Boltzmann constant at the logged temperature."""
    when = int(np.datetime64("2031-04-11T10:17", "s").astype(int))
    found = trace(sample_folder / "build/sample_archive", "osr", "lwd", when)
    lines = list(physics_lines(found))
    body = float(found.logged["longwave_1_body_temperature"].values[found.rows[0]]) + 273.15
    emission = constants.Stefan_Boltzmann * body**4
    assert figures(lines, "emission of body and dome") == pytest.approx(emission, abs=0.01)
    total = figures(lines, "thermopile term") + figures(lines, "emission of body and dome")
    assert figures(lines, "calibrated") == pytest.approx(total, abs=0.011)


@pytest.mark.parametrize("quantity", ["ghi", "dni", "lwd"])
def test_parts_of_the_uncertainty(sample_folder: Path, quantity: str) -> None:
    """Their squares add up to the square of the combined one (JCGM 100:2008, 5.1.2)."""
    when = int(np.datetime64("2031-04-11T10:17", "s").astype(int))
    found = trace(sample_folder / "build/sample_archive", "osr", quantity, when)
    *parts, last = uncertainty_lines(found)
    sizes = [float(re.findall(r"\d+\.\d+", line)[0]) for line in parts]
    combined, expanded = (float(n) for n in re.findall(r"\d+\.\d+", last)[:2])
    assert np.sqrt(np.sum(np.square(sizes))) == pytest.approx(combined, rel=0.01, abs=0.02)
    # each says how long its error lasts, its width and its law
    pattern = r", (?:common|independent|lasting).* \(\S+ .*, (?:normal|rectangular|triangular)\)$"
    assert all(re.search(pattern, part) for part in parts)
    assert any(
        re.match(r"calibration .*, common to a calibration \(\S+ %, normal\)", p) for p in parts
    )
    assert expanded == pytest.approx(found.archived[f"{quantity}_uncertainty"], abs=0.006)
    assert len(sizes) > 4


def test_no_value_has_no_uncertainty(sample_folder: Path) -> None:
    when = int(np.datetime64("2031-04-02T12:54", "s").astype(int))
    found = trace(sample_folder / "build/sample_archive", "osr", "ghi", when)
    assert list(uncertainty_lines(found)) == ["none stated, since there is no value"]
