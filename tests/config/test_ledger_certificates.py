"""Edges of the rules on certificates."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from sunledger.config import ledger_certificates as rules
from sunledger.config.ledger_view import Finding, LedgerView, ledger_view
from sunledger.config.loading import StationConfig, load_station
from sunledger.config.models.base import parse_utc
from sunledger.config.models.checks import CheckSettings
from sunledger.config.models.processing import CalibrateSettings

Rewrite = Callable[..., StationConfig]
CERTIFICATE = """      - certificate: {name}
        date: "{date}"
        sensitivity: {{{found}as_left: {left}, unit: uV W-1 m2}}
        expanded_uncertainty: 1.2
        method: comparison outdoors
        reference_scale: invented scale
        traceability: invented chain
        laboratory: invented laboratory
"""


@pytest.fixture
def with_certificates(sound: Path) -> Rewrite:
    """Return a loader of the sound station with one global pyranometer and these certificates."""

    def load(*rows: tuple[str, str, float], iso_class: str = "A", more: str = "") -> StationConfig:
        text = "instruments:\n  - serial_number: GL-01\n    kind: thermopile_pyranometer\n"
        text += f"    iso_class: {iso_class}\n" if iso_class else ""
        text += more + ("    calibrations:\n" if rows else "")
        for i, (date, found, left) in enumerate(rows):
            as_found = f"as_found: {found}, " if found else ""
            text += CERTIFICATE.format(name=f"C{i}", date=date, found=as_found, left=left)
        folder = sound / "station"
        (folder / "instruments.yaml").write_text(text, encoding="utf-8")
        log = (folder / "fieldlog.yaml").read_text(encoding="utf-8")
        (folder / "fieldlog.yaml").write_text(log.partition("  - id: tst-002")[0])
        return load_station(folder)

    return load


def _view(config: StationConfig, as_of: str | None = None, **choice: Any) -> LedgerView:
    now = None if as_of is None else parse_utc(as_of)
    return ledger_view(config, CheckSettings(), now, CalibrateSettings(**choice))


def _moved(config: StationConfig) -> list[Finding]:
    return list(rules.recalibration_moved(_view(config)))


def test_instrument_without_any_certificate(with_certificates: Rewrite) -> None:
    """It is said plainly, and nothing else is said about certificates."""
    view = _view(with_certificates(), "2031-02-20")
    (found,) = rules.no_certificate_before(view)
    assert "GL-01 has no certificate before 2031-01-10 09:00 (first certificate: none)" in found.why
    assert list(rules.certificate_too_old(view)) == []
    assert list(rules.sensitivity_impossible(view)) == []


def test_certificate_of_the_very_start_is_in_time(with_certificates: Rewrite) -> None:
    """A certificate dated on the day before counts; one dated the day after does not."""
    before = with_certificates(("2031-01-10", "", 8.4))
    assert list(rules.no_certificate_before(_view(before))) == []
    after = with_certificates(("2031-01-11", "", 8.4))
    assert len(list(rules.no_certificate_before(_view(after)))) == 1
    log = after.folder / "fieldlog.yaml"
    log.write_text(log.read_text().replace("2031-01-10 09:00", "2031-01-11 00:00"))
    assert list(rules.no_certificate_before(_view(load_station(after.folder)))) == []


def test_age_is_counted_until_the_next_certificate(with_certificates: Rewrite) -> None:
    """A certificate replaced in time never grows old; a gap between two does."""
    config = with_certificates(("2030-11-02", "", 8.4), ("2031-11-02", "", 8.4))
    assert list(rules.certificate_too_old(_view(config, "2033-11-01"))) == []
    old = list(rules.certificate_too_old(_view(config, "2033-11-02")))
    assert [f.why.partition(" is older")[0] for f in old] == [
        "certificate C1 of GL-01, dated 2031-11-02,"
    ]
    both = list(rules.certificate_too_old(_view(config, "2033-11-02", largest_certificate_age=300)))
    assert ["from 2031-08-29 00:00 on" in both[0].why, "C1" in both[1].why] == [True, True]


def test_age_without_a_date_is_judged_at_the_start(with_certificates: Rewrite) -> None:
    """Without the run's "now", only what was already old at the deployment is reported."""
    config = with_certificates(("2030-11-02", "", 8.4))
    assert list(rules.certificate_too_old(_view(config))) == []
    assert len(list(rules.certificate_too_old(_view(config, largest_certificate_age=60)))) == 1


@pytest.mark.parametrize(
    ("value", "impossible", "unusual"),
    [(5.0, 0, 0), (20.0, 0, 0), (4.9, 0, 1), (20.1, 0, 1), (0.0084, 1, 0), (8400, 1, 0)],
)
def test_sensitivity_bounds(
    value: float, impossible: int, unusual: int, with_certificates: Rewrite
) -> None:
    """A slip of the unit by a thousand is an error, an odd value a warning, never both."""
    view = _view(with_certificates(("2030-11-02", "", value)))
    assert len(list(rules.sensitivity_impossible(view))) == impossible
    assert len(list(rules.sensitivity_unusual(view))) == unusual


# Class limits of ISO 9060 for the change a year, as quoted in texts on the standard: 0.8, 1.5 and
# 3 percent for classes A, B and C.
@pytest.mark.parametrize(("iso_class", "limit"), [("A", 0.8), ("B", 1.5), ("C", 3.0), ("", 3.0)])
def test_recalibration_against_the_class(
    iso_class: str, limit: float, with_certificates: Rewrite
) -> None:
    """One year apart, a change just within the class's limit passes, one just beyond does not."""
    for share, faults in ((0.98, 0), (1.02, 1)):
        for sign in (1, -1):
            later = 10 * (1 + sign * share * limit / 100)
            config = with_certificates(
                ("2029-11-02", "", 10.0), ("2030-11-02", "", later), iso_class=iso_class
            )
            assert len(_moved(config)) == faults


def test_as_found_counts_before_as_left(with_certificates: Rewrite) -> None:
    """What an adjustment changed is no drift: the as-found value is compared."""
    steady = with_certificates(("2029-11-02", "", 10.0), ("2030-11-02", "10.02", 12.0))
    assert _moved(steady) == []
    drifted = with_certificates(("2029-11-02", "", 10.0), ("2030-11-02", "12.0", 10.0))
    assert [f.field.rpartition(".")[2] for f in _moved(drifted)] == ["as_found"]


def test_no_comparison_across_a_break(with_certificates: Rewrite) -> None:
    """A repair explains any change."""
    broken = '    breaks:\n      - {date: "2030-03-01", reason: new detector}\n'
    rows = (("2029-11-02", "", 10.0), ("2030-11-02", "", 12.0))
    assert _moved(with_certificates(*rows, more=broken)) == []
    assert len(_moved(with_certificates(*rows, more=broken.replace("2030", "2031")))) == 1


def test_years_add_up_and_months_do_not_divide(with_certificates: Rewrite) -> None:
    """Three years allow three times the change; half a year still allows a year's."""
    long = with_certificates(("2027-11-02", "", 10.0), ("2030-11-02", "", 10.23))
    short = with_certificates(("2030-06-02", "", 10.0), ("2030-11-02", "", 10.07))
    assert _moved(long) == _moved(short) == []
    long = with_certificates(("2027-11-02", "", 10.0), ("2030-11-02", "", 10.25))
    assert len(_moved(long)) == 1
