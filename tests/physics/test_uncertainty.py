"""Budgets of radiometers against two worked by hand, and their behaviour."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.physics.level import level_half_width
from sunledger.physics.uncertainty import (
    PyrgeometerLimits,
    pyranometer_limits,
    pyranometer_uncertainty,
    pyrgeometer_uncertainty,
    pyrheliometer_limits,
    pyrheliometer_uncertainty,
)

PYRANOMETER = pyranometer_limits("A", 1.2, thermal_sensitivity=0.40)
PYRHELIOMETER = pyrheliometer_limits("A", 0.8)
# hand-worked budget: V = 8000 µV, R = 8, Rnet = 0.4, Wnet = -100 W m-2, B = 850 at Z = 30
HAND_WORKED = {
    "logger": 0.0722,
    "calibration": 6.0300,
    "non_stability": 4.6419,
    "non_linearity": 2.9012,
    "temperature": 5.8024,
    "thermal_sensitivity": 0.2887,
    "net_longwave": 0.1443,
    "directional": 5.7735,
    "zero_offset_a": 0.0000,
    "zero_offset_b": 1.1547,
    "level": 0.4283,
}


def pyranometer_example():
    irradiance = (8000.0 - 0.4 * -100.0) / 8.0
    level = level_half_width(850.0, 30.0, 0.1)
    return irradiance, pyranometer_uncertainty(
        irradiance, 8.0, PYRANOMETER, net_longwave=-100.0, level_half_width=level
    )


def test_pyranometer_budget():
    """Every contribution to half a unit of the fourth decimal, and the sums as printed."""
    irradiance, budget = pyranometer_example()
    assert irradiance == 1005.0
    assert set(budget.contributions) == set(HAND_WORKED)
    for name, expected in HAND_WORKED.items():
        assert abs(budget.contributions[name] - expected) <= 5.1e-5, name
    assert abs(budget.standard - 11.617) <= 5e-4
    assert abs(budget.expanded() - 23.23) <= 5e-3
    assert abs(budget.expanded(1.96) - 22.77) <= 5e-3
    assert abs(100 * budget.expanded() / irradiance - 2.31) <= 5e-3


def test_pyrheliometer_budget():
    """V = 7200 µV, R = 8: uc 5.280, U 10.56 W m-2, 1.17 %."""
    budget = pyrheliometer_uncertainty(900.0, 8.0, PYRHELIOMETER)
    assert abs(budget.standard - 5.280) <= 5e-4
    assert abs(budget.expanded() - 10.56) <= 5e-3
    assert abs(100 * budget.expanded() / 900.0 - 1.17) <= 5e-3


def test_size_against_the_wmo_guide():
    """WMO-No. 8: 3 % for hourly totals of a high-quality pyranometer, 95 % (quoted 1996 table)."""
    _, budget = pyranometer_example()
    assert 0.01 < budget.expanded() / 1005.0 < 0.03


def test_common_and_random_parts_make_the_whole():
    """Only the logger's part shrinks in a mean."""
    _, budget = pyranometer_example()
    assert_allclose(budget.common**2 + budget.random**2, budget.standard**2)
    assert_allclose(budget.random, budget.contributions["logger"])


def test_vectorised_over_samples():
    """An array gives what the samples give alone; NaN stays NaN."""
    irradiance, sensitivity = np.array([0.0, 300.0, np.nan, 1005.0]), np.array([8.0, 9.0, 8.0, 8.0])
    net, beam = np.array([-80.0, -50.0, -50.0, -100.0]), np.array([0.0, 100.0, 100.0, 850.0])
    whole = pyranometer_uncertainty(irradiance, sensitivity, PYRANOMETER, net, beam, beam / 1000)
    for i in range(4):
        alone = pyranometer_uncertainty(
            irradiance[i], sensitivity[i], PYRANOMETER, net[i], beam[i], beam[i] / 1000
        )
        assert_array_equal(whole.standard[i], alone.standard)
    assert_array_equal(np.isnan(whole.standard), [False, False, True, False])
    assert whole.common.shape == whole.random.shape == (4,)


def test_directional_limit_follows_the_beam():
    """A shaded instrument has none, a beam of 1000 W m-2 all of it, a beam below 0 none."""
    beams = [0.0, 500.0, 1000.0, -2.0]
    budget = pyranometer_uncertainty(np.full(4, 400.0), 8.0, PYRANOMETER, beam=beams)
    assert_allclose(budget.contributions["directional"], np.array([0, 5, 10, 0]) / np.sqrt(3))


def test_negative_irradiance_counts_by_its_size():
    a = pyranometer_uncertainty(-4.0, 8.0, PYRANOMETER)
    b = pyranometer_uncertainty(4.0, 8.0, PYRANOMETER)
    assert a.standard == b.standard > 0


@pytest.mark.parametrize("name", ["calibration", "non_stability", "temperature", "zero_offset_b"])
def test_uncertainty_grows_with_each_input(name):
    larger = replace(PYRANOMETER, **{name: 1.01 * getattr(PYRANOMETER, name)})
    assert (
        pyranometer_uncertainty(800.0, 8.0, larger).standard
        > pyranometer_uncertainty(800.0, 8.0, PYRANOMETER).standard
    )


def test_pyrgeometer_budget_by_hand():
    """U = -350 µV, C = 3.8, Tb = 288.15 K, 3 % calibration, 0.1 K, window 2 W m-2, 1 % drift.

    92.105 * 1.5 % = 1.3816; 92.105 * 1 % / sqrt 3 = 0.5318; 1 / 3.8 / sqrt 3 = 0.1519;
    0.5427 / sqrt 3 = 0.3133; 2 / sqrt 3 = 1.1547; together 1.9187.
    """
    budget = pyrgeometer_uncertainty(-350.0, 3.8, 288.15, PyrgeometerLimits(3.0, 1.0))
    expected = {
        "calibration": 1.3816,
        "non_stability": 0.5318,
        "logger": 0.1519,
        "body_temperature": 0.3133,
        "dome_temperature": 0.0,
        "dome_factor": 0.0,
        "window": 1.1547,
    }
    for name, value in expected.items():
        assert abs(budget.contributions[name] - value) <= 5.1e-5, name
    assert_allclose(budget.standard, np.sqrt(sum(v**2 for v in expected.values())), atol=1e-4)


def test_pyrgeometer_dome_by_differences():
    """Sensitivities to dome temperature and factor equal numerical differences of the equation."""
    from sunledger.physics.longwave import PYRGEOMETER_EQUATIONS, PyrgeometerCoefficients

    def longwave(dome, factor):
        coefficients = PyrgeometerCoefficients(dome_factor=factor)
        return PYRGEOMETER_EQUATIONS["albrecht_cox"](-350.0, 3.8, 288.15, dome, coefficients)

    limits = PyrgeometerLimits(3.0, 1.0, dome_factor=3.5, dome_factor_half_width=0.3)
    parts = pyrgeometer_uncertainty(-350.0, 3.8, 288.15, limits, 287.65).contributions
    by_dome = abs(longwave(287.66, 3.5) - longwave(287.64, 3.5)) / 0.02
    by_factor = abs(longwave(287.65, 3.6) - longwave(287.65, 3.4)) / 0.2
    assert_allclose(parts["dome_temperature"], by_dome * 0.1 / np.sqrt(3), rtol=1e-6)
    assert_allclose(parts["dome_factor"], by_factor * 0.3 / np.sqrt(3), rtol=1e-6)
