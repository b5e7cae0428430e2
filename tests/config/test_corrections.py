"""Which corrections the record allows; what cannot be one."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from invented import KINDS, certificate, deployment, instrument
from sunledger.config.corrections import (
    NO_CORRECTIONS,
    Corrections,
    at_temperature,
    corrections_of,
)
from sunledger.config.models.fieldlog import Deployment
from sunledger.config.models.instruments import Instrument
from sunledger.config.models.processing import CalibrateSettings

TABLE = {"zeniths": [0.0, 80.0], "azimuths": [0.0], "percent": [[0.0], [2.0]]}
BAND = {"correction": "isotropic", "width": 60, "radius": 300, "expanded_uncertainty": 4.0}
NIGHT = {"method": "night"}


def of(
    cert: dict[str, Any] | None = None,
    stands: dict[str, Any] | None = None,
    settings: dict[str, Any] | None = None,
    **changes: Any,
) -> Corrections:
    """Corrections of the global instrument."""
    plain = instrument("global_1", certificate("global_1", **(cert or {})), **changes)
    item = Instrument.model_validate(plain)
    entry = Deployment.model_validate(deployment("global_1", **(stands or {})))
    chosen = CalibrateSettings.model_validate(settings or {})
    return corrections_of(item, item.calibrations[0], entry, chosen)


def test_none_without_anything() -> None:
    assert of() == NO_CORRECTIONS


def test_directional_goes_with_the_beam() -> None:
    """As deployed, with the mark's azimuth; none behind a shade."""
    plain = {"directional_response": TABLE}
    found = of(plain, {"mark_azimuth": 90.0}).directional
    assert found is not None
    assert found.mark_azimuth == 90.0
    assert of(plain, {"shade": "disc"}).directional is None


@pytest.mark.parametrize(("said", "known"), [("removed", True), ("absorbed", False), (None, False)])
def test_thermal_offset_agrees_with_the_responsivity(said: str | None, known: bool) -> None:
    got = of({"offset_in_responsivity": said}, thermal_offset=NIGHT)
    assert (got.thermal_offset is not None) == known


def test_band() -> None:
    found = of(None, {"shade": "band", "band": BAND}).band
    assert found is not None
    assert (found.width_over_radius, found.expanded_uncertainty) == (0.2, 0.04)


def test_settings_leave_corrections_out() -> None:
    plain = {
        "directional_response": TABLE,
        "non_linearity": [[0.0, 0.1], [900.0, 0.2]],
        "temperature_polynomial": {"coefficients": [1e-4], "lowest": -20.0, "highest": 40.0},
        "offset_in_responsivity": "removed",
    }
    assert of(plain, settings={"corrections": []}, thermal_offset=NIGHT) == NO_CORRECTIONS
    off = of(plain, settings={"temperature_response": False})
    assert off.polynomial == ()
    assert off.non_linearity
    assert not at_temperature(CalibrateSettings(temperature_response=False))


@pytest.mark.parametrize(
    ("cert", "changes", "message"),
    [
        ({"non_linearity": [[0.0, 7.0]]}, {}, "within 5 %"),
        ({"non_linearity": [[9.0, 0.0], [1.0, 0.0]]}, {}, "must rise"),
        ({"directional_response": TABLE | {"percent": [[0.0]]}}, {}, "needs 2 rows of 1 values"),
        ({"directional_response": TABLE | {"zeniths": [0.0, 99.0]}}, {}, "rise within 0 and 90"),
        (
            {
                "temperature_response": [[0.0, 0.0]],
                "temperature_polynomial": {"coefficients": [1e-4], "lowest": 0, "highest": 9},
            },
            {},
            "keep one of both",
        ),
        (
            {"temperature_polynomial": {"coefficients": [1e-4], "lowest": 9, "highest": 9}},
            {},
            "above lowest",
        ),
        ({}, {"thermal_offset": NIGHT, "kind": "black_and_white_pyranometer"}, "allowed: none"),
        ({}, {"thermal_offset": {"method": "pyrgeometer"}}, "with method pyrgeometer"),
        ({}, {"thermal_offset": NIGHT | {"beside": "sky_1"}}, "with no other"),
        ({}, {"inputs": []} | {"kind": "nothing"}, "kind"),
    ],
)
def test_what_cannot_be(cert: dict[str, Any], changes: dict[str, Any], message: str) -> None:
    with pytest.raises(ValidationError, match=message):
        of(cert, **changes)


def test_a_band_stands_with_shade_band_only() -> None:
    with pytest.raises(ValidationError, match=r"shade band only \(got disc\)"):
        of(None, {"shade": "disc", "band": BAND})


def test_black_and_white_detectors_have_none_to_correct() -> None:
    assert of(None, thermal_offset={"method": "none"}, kind=KINDS["global_1"]) == NO_CORRECTIONS
