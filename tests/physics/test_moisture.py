"""Dew and frost point against another library and against tabled vapour pressures."""

from __future__ import annotations

import numpy as np
import pvlib
import pytest

from sunledger.physics.moisture import dew_or_frost_settles, saturation_pressure


@pytest.mark.parametrize(
    ("celsius", "over_ice", "pascal"),
    [
        # Sonntag (1990) and IAPWS agree on these within 0.1 %; from memory, rounded
        (0.01, False, 611.7),
        (20.0, False, 2339.0),
        (30.0, False, 4247.0),
        (-10.0, True, 259.9),
        (-30.0, True, 38.0),
    ],
)
def test_tabled_pressures(celsius: float, over_ice: bool, pascal: float) -> None:
    """The formula is good to some tenths of a percent."""
    got = float(saturation_pressure(celsius + 273.15, over_ice))
    assert got == pytest.approx(pascal, rel=4e-3)


@pytest.mark.parametrize("air", [-5.0, 3.0, 12.0, 25.0])
@pytest.mark.parametrize("humidity", [0.3, 0.7, 0.95])
def test_dew_point_of_pvlib(air: float, humidity: float) -> None:
    """A surface settles dew below the dew point of pvlib's Magnus formula, not above."""
    point = float(pvlib.atmosphere.tdew_from_rh(air, 100.0 * humidity))
    for away, expected in ((-0.02, True), (0.02, False)):
        kelvin = point + away + 273.15
        vapour = humidity * saturation_pressure(air + 273.15)
        assert (vapour >= saturation_pressure(kelvin)) == expected
        if point > 0.1:
            assert dew_or_frost_settles(kelvin, air + 273.15, humidity) == expected


def test_frost_settles_above_the_dew_point() -> None:
    """Below freezing ice needs less vapour: at -10 °C about 10 % less than water."""
    ice, water = saturation_pressure(263.15, True), saturation_pressure(263.15, False)
    assert float(ice / water) == pytest.approx(0.907, abs=0.003)
    assert dew_or_frost_settles(263.15, 263.15, 0.92)
    assert not dew_or_frost_settles(263.15, 263.15, 0.89)


def test_scalar_array_and_gaps() -> None:
    """Nothing settles where something is not known."""
    got = dew_or_frost_settles([280.0, np.nan, 280.0, 300.0], 280.0, [1.0, 1.0, np.nan, 1.0])
    assert got.tolist() == [True, False, False, False]
    assert saturation_pressure(273.15).shape == ()
    assert np.isnan(saturation_pressure(np.nan))
