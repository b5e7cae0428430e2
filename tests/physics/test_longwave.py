"""Pyrgeometer equations against numbers worked by hand, and their inverses."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import constants

from sunledger.physics.longwave import (
    PYRGEOMETER_EQUATIONS,
    STEFAN_BOLTZMANN,
    PyrgeometerCoefficients,
    emitted_irradiance,
    pyrgeometer_voltage,
)

BODY, DOME = 288.15, 287.65
WORKED = {  # hand-worked with U = -350 µV, C = 3.8 µV/(W m-2), k1 = 0.05, k2 = 1, k = 3.5
    "simple": 298.813,
    "albrecht_cox": 308.285,
    "philipona": 302.037,
}
COEFFICIENTS = PyrgeometerCoefficients(k1=0.05, k2=1.0, dome_factor=3.5)


def test_stefan_boltzmann_is_that_of_codata():
    """CODATA as scipy holds it, to the digits printed in 2018."""
    assert abs(STEFAN_BOLTZMANN - constants.Stefan_Boltzmann) < 5e-18


@pytest.mark.parametrize("name", PYRGEOMETER_EQUATIONS)
def test_worked_example(name):
    """To half a unit of the third decimal."""
    got = PYRGEOMETER_EQUATIONS[name](-350.0, 3.8, BODY, DOME, COEFFICIENTS)
    assert abs(got - WORKED[name]) <= 5e-4


def test_parts_of_the_worked_example():
    """Thermopile -92.105, emission 390.919; 0.1 K of the body is 0.543 W m-2."""
    assert abs(-350.0 / 3.8 + 92.105) <= 5e-4
    assert abs(emitted_irradiance(BODY) - 390.919) <= 5e-4
    tenth = (emitted_irradiance(BODY + 0.05) - emitted_irradiance(BODY - 0.05)).item()
    assert abs(tenth - 0.543) <= 5e-4


def test_a_degree_between_dome_and_body():
    """About 18 W m-2 for k = 3.5 (tutorial of the International Pyrheliometer Comparison XI)."""
    equation = PYRGEOMETER_EQUATIONS["albrecht_cox"]
    warm = equation(-350.0, 3.8, 283.15, 284.15, COEFFICIENTS)
    level = equation(-350.0, 3.8, 283.15, 283.15, COEFFICIENTS)
    assert abs((level - warm) - 18.0) < 0.5


@pytest.mark.parametrize("name", PYRGEOMETER_EQUATIONS)
def test_round_trip(name):
    """Irradiance to voltage and back within 1e-9."""
    rng = np.random.default_rng(1)
    wanted, body = rng.uniform(100, 500, 300), rng.uniform(230, 320, 300)
    dome, sensitivity = body + rng.normal(0, 1, 300), rng.uniform(3, 12, 300)
    voltage = pyrgeometer_voltage(name, wanted, sensitivity, body, dome, COEFFICIENTS)
    got = PYRGEOMETER_EQUATIONS[name](voltage, sensitivity, body, dome, COEFFICIENTS)
    assert_allclose(got, wanted, rtol=1e-9)


def test_equations_reduce_to_the_simple_one():
    """With k1 = 0, k2 = 1, k = 0 all three agree."""
    plain = PyrgeometerCoefficients()
    got = [f(-350.0, 3.8, BODY, DOME, plain) for f in PYRGEOMETER_EQUATIONS.values()]
    assert_allclose(got, got[0], rtol=1e-14)


@pytest.mark.parametrize("name", PYRGEOMETER_EQUATIONS)
def test_missing_values_and_shapes(name):
    """NaN in voltage or body gives NaN; a missing dome matters only where it is used."""
    equation = PYRGEOMETER_EQUATIONS[name]
    got = equation(
        [np.nan, -1.0, -1.0], 3.8, [BODY, np.nan, BODY], [DOME, DOME, np.nan], COEFFICIENTS
    )
    assert np.isnan(got[:2]).all()
    assert np.isnan(got[2]) == (name != "simple")
    assert equation(-350.0, 3.8, BODY, DOME, COEFFICIENTS).shape == ()


def test_refusals():
    """A sensitivity that is not positive, and an equation nobody knows."""
    with pytest.raises(ValueError, match="sensitivity must be positive"):
        PYRGEOMETER_EQUATIONS["simple"](-350.0, -3.8, BODY, DOME, COEFFICIENTS)
    with pytest.raises(ValueError, match=r"one of simple, albrecht_cox, philipona \(got 'plain'\)"):
        pyrgeometer_voltage("plain", 300.0, 3.8, BODY, DOME, COEFFICIENTS)
