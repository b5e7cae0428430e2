"""The inventory: certificates in order, constants that belong to their equation."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from sunledger.config.models.instruments import RADIOMETER_KINDS, Instrument, Inventory
from sunledger.vocabulary import RADIOMETRIC


def _certificate(**changes: Any) -> dict[str, Any]:
    return {
        "certificate": "C-1",
        "date": "2030-11-02",
        "sensitivity": {"as_left": 8.4, "unit": "uV W-1 m2"},
        "expanded_uncertainty": 1.2,
        "method": "comparison outdoors",
        "reference_scale": "invented scale",
        "traceability": "invented chain",
        "laboratory": "invented laboratory",
        **changes,
    }


def _instrument(*certificates: dict[str, Any], **changes: Any) -> Instrument:
    kind = {"serial_number": "GL-01", "kind": "thermopile_pyranometer"}
    return Instrument.model_validate({**kind, "calibrations": list(certificates), **changes})


@pytest.mark.parametrize(
    "sensitivity",
    [0, -8.4, float("nan"), float("inf"), "8.4 uV"],
)
def test_sensitivity_is_a_positive_number(sensitivity: object) -> None:
    """Neither zero nor negative nor NaN divides a voltage."""
    wrong = {"as_left": sensitivity, "unit": "uV W-1 m2"}
    with pytest.raises(ValidationError, match="as_left"):
        _instrument(_certificate(sensitivity=wrong))


@pytest.mark.parametrize("unit", ["mV W-1 m2", "V W-1 m2", "W m-2 uV-1", ""])
def test_unit_is_written_and_is_the_only_one(unit: str) -> None:
    """A certificate in another unit is converted by a person, who then looks at the number."""
    with pytest.raises(ValidationError, match="uV W-1 m2"):
        _instrument(_certificate(sensitivity={"as_left": 8.4, "unit": unit}))
    with pytest.raises(ValidationError, match="unit"):
        _instrument(_certificate(sensitivity={"as_left": 8.4}))


@pytest.mark.parametrize("dates", [("2030-11-02", "2030-11-02"), ("2030-11-02", "2029-11-02")])
def test_certificates_stand_in_order(dates: tuple[str, str]) -> None:
    """Two certificates of one date, or in falling order, are refused."""
    rows = [_certificate(date=d, certificate=d) for d in dates]
    with pytest.raises(ValidationError, match=f"must be later than {dates[0]}"):
        _instrument(*rows)
    assert len(_instrument(_certificate(date="2028-01-01"), rows[0]).calibrations) == 2


@pytest.mark.parametrize(
    ("equation", "given", "wrong"),
    [
        ("simple", {}, {"k": 3.5}),
        ("albrecht_cox", {"k": 3.5}, {}),
        ("philipona", {"k1": 0.05, "k2": 1.0, "k3": 3.5}, {"k1": 0.05, "k2": 1.0}),
    ],
)
def test_constants_belong_to_the_equation(
    equation: str, given: dict[str, float], wrong: dict[str, float]
) -> None:
    """An equation gets all of its constants and no other."""
    pyrgeometer = {"kind": "pyrgeometer"}
    good = _certificate(longwave={"equation": equation, **given})
    assert _instrument(good, **pyrgeometer).calibrations[0].longwave is not None
    with pytest.raises(ValidationError, match=f"{equation} takes"):
        _instrument(_certificate(longwave={"equation": equation, **wrong}), **pyrgeometer)


def test_longwave_belongs_to_pyrgeometers() -> None:
    """A pyrgeometer without equation, and a pyranometer with one, are refused."""
    with pytest.raises(ValidationError, match="belongs to every certificate of a pyrgeometer"):
        _instrument(_certificate(), kind="pyrgeometer")
    with pytest.raises(ValidationError, match="belongs to every certificate of a pyrgeometer"):
        _instrument(_certificate(longwave={"equation": "simple"}))


def test_serial_numbers_are_unique() -> None:
    """The inventory finds each instrument by its serial number."""
    one, two = _instrument(), _instrument(serial_number="GL-02")
    inventory = Inventory(instruments=(one, two))
    assert inventory.by_serial() == {"GL-01": one, "GL-02": two}
    with pytest.raises(ValidationError, match="serial numbers given twice: GL-01"):
        Inventory(instruments=(one, two, one))
    with pytest.raises(ValidationError, match="at least 1"):
        Inventory(instruments=())


def test_every_radiometric_quantity_has_its_kinds() -> None:
    """A quantity added to the vocabulary needs an instrument that measures it."""
    assert set(RADIOMETER_KINDS) == set(RADIOMETRIC)


def test_scan_digest_is_a_sha256() -> None:
    """Sixty-four hexadecimal digits, as sha256sum prints."""
    assert _instrument(_certificate(scan_sha256="0" * 64)).calibrations[0].scan_sha256
    with pytest.raises(ValidationError, match="scan_sha256"):
        _instrument(_certificate(scan_sha256="0" * 63))
