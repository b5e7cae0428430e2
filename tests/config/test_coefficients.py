"""Which certificate's numbers hold at which position and when."""

from __future__ import annotations

from typing import Any

import pytest

from invented import DAY, KINDS, certificate, deployment, instrument, logger, station_config
from sunledger.config.coefficients import Coefficients, certificate_spans, coefficient_rows
from sunledger.config.models.base import FAR_FUTURE, parse_utc
from sunledger.config.models.fieldlog import FieldLog
from sunledger.config.models.instruments import Instrument
from sunledger.config.models.processing import CalibrateSettings

START, END = parse_utc("2031-01-01"), parse_utc("2032-01-01")
OLD, NEW = parse_utc("2030-06-01"), parse_utc("2031-06-01")
OTHERS = [instrument(p) for p in KINDS if p != "global_1"]


def newer(as_left: float = 8.4, as_found: float | None = None, **changes: Any) -> dict[str, Any]:
    """A second certificate of the global, a year after the first."""
    sensitivity = {"as_left": as_left, "as_found": as_found, "unit": "uV W-1 m2"}
    new = {"certificate": "NC-new", "date": "2031-06-01", "sensitivity": sensitivity}
    return certificate("global_1", **(new | changes))


def rows(
    *certificates: dict[str, Any], entries: list[dict[str, Any]] | None = None, **changes: Any
) -> list[Coefficients]:
    """Rows of the global instrument over the year 2031."""
    policy = changes.pop("policy", "interpolated")
    mine = instrument("global_1", *certificates, **changes)
    spare = instrument("global_1", serial_number="NR-spare", **changes)
    spare["calibrations"] = [certificate("global_1", certificate="NC-spare")]
    config = station_config(instruments=[mine, spare, *OTHERS])
    if entries is not None:
        log = [deployment(p) for p in KINDS if p != "global_1"] + entries
        config = type(config)(
            config.station,
            config.inventory,
            FieldLog.model_validate({"entries": log}),
            config.review,
        )
    found = coefficient_rows(config, CalibrateSettings(policy=policy), START, END)
    return [row for row in found if row.position == "global_1"]


def test_one_certificate_holds_on() -> None:
    """A constant sensitivity, clipped to the period; standard uncertainty from U and k."""
    (row,) = rows(certificate("global_1", expanded_uncertainty=1.5, coverage_factor=3.0))
    assert row.sensitivity_points == ((OLD, 8.0),)
    assert (row.start, row.end) == (START, END)
    assert row.relative_uncertainty == pytest.approx(0.005, abs=1e-15)
    assert row.certified == OLD


def test_interpolated_runs_to_what_the_later_certificate_found() -> None:
    """As left in the first to as found in the second; then as left in the second."""
    first, second = rows(certificate("global_1"), newer(8.4, as_found=8.1))
    assert first.sensitivity_points == ((OLD, 8.0), (NEW, 8.1))
    assert second.sensitivity_points == ((NEW, 8.4),)
    assert (first.end, second.start) == (NEW, NEW)


def test_interpolated_without_as_found_takes_as_left() -> None:
    """Where nothing was adjusted the two are the same."""
    first, _ = rows(certificate("global_1"), newer(8.4))
    assert first.sensitivity_points == ((OLD, 8.0), (NEW, 8.4))


def test_latest_before_never_looks_ahead() -> None:
    """Each certificate's as-left value is held until the next."""
    first, second = rows(certificate("global_1"), newer(8.4, as_found=8.1), policy="latest_before")
    assert first.sensitivity_points == ((OLD, 8.0),)
    assert second.sensitivity_points == ((NEW, 8.4),)


@pytest.mark.parametrize("date", ["2030-06-01", "2031-01-15", "2031-06-01"])
def test_interpolation_never_crosses_a_break(date: str) -> None:
    """A repair between the two certificates, or on the day of one, leaves the first held."""
    broken = [{"date": date, "reason": "detector replaced"}]
    first, second = rows(certificate("global_1"), newer(8.4), breaks=broken)
    assert first.sensitivity_points == ((OLD, 8.0),)
    assert second.sensitivity_points == ((NEW, 8.4),)


def test_a_break_elsewhere_changes_nothing() -> None:
    """One before the first or after the second certificate is not crossed."""
    breaks = [{"date": d, "reason": "new dome"} for d in ("2030-05-31", "2031-06-02")]
    assert rows(certificate("global_1"), newer(8.4), breaks=breaks) == rows(
        certificate("global_1"), newer(8.4)
    )


def test_a_later_certificate_reaches_back_to_the_one_before() -> None:
    """A post-deployment certificate after the period changes the period's sensitivity."""
    later = newer(8.4, date="2032-06-01")
    assert rows(certificate("global_1"), later)[0].sensitivity_points[1] == (
        parse_utc("2032-06-01"),
        8.4,
    )


def test_exchange_within_the_period() -> None:
    """One row per instrument, each in its own half-open time, none in the gap between."""
    change, back = parse_utc("2031-04-01 10:00"), parse_utc("2031-04-01 10:30")
    entries = [
        deployment("global_1", until=change),
        deployment("global_1", id="dep-spare", instrument="NR-spare", **{"from": back}),
    ]
    first, second = rows(certificate("global_1"), entries=entries)
    assert (first.serial_number, first.end) == ("NR-global_1", change)
    assert (second.serial_number, second.start) == ("NR-spare", back)
    assert second.certificate == "NC-spare"


def test_no_row_before_the_first_certificate() -> None:
    """An instrument put up before it was calibrated has no coefficients until then."""
    (row,) = rows(newer(8.4))
    assert (row.start, row.end) == (NEW, END)


def test_no_row_without_deployment_or_certificate() -> None:
    """Nothing is guessed."""
    assert rows(certificate("global_1"), entries=[]) == []
    assert rows(certificate("global_1", date="2035-01-01")) == []


def test_row_says_how_the_instrument_stands() -> None:
    """Shade and ventilation of the deployment, class and kind of the instrument."""
    entries = [deployment("global_1", ventilated=True, shade="band")]
    (row,) = rows(certificate("global_1"), entries=entries)
    assert (row.ventilated, row.shade, row.iso_class) == (True, "band", "A")
    assert (row.kind, row.quantity) == ("thermopile_pyranometer", "ghi")
    assert row.deployment == "dep-global_1"


def test_temperature_response_can_be_switched_off() -> None:
    """Then the row holds none, and the resolved configuration shows it."""
    table = ((-20.0, -1.0), (20.0, 0.0))
    mine = instrument("global_1", certificate("global_1", temperature_response=table))
    config = station_config(instruments=[mine, *OTHERS])
    for on, expected in ((True, table), (False, ())):
        got = coefficient_rows(config, CalibrateSettings(temperature_response=on), START, END)
        assert next(r for r in got if r.position == "global_1").temperature_response == expected


def test_longwave_constants_and_thermistor() -> None:
    """Those of the certificate, by name, and the instrument's Steinhart-Hart coefficients."""
    longwave = {"equation": "philipona", "k1": 0.05, "k2": 1.0, "k3": 3.5}
    thermistor = {"a": 1.0295e-3, "b": 2.391e-4, "c": 1.568e-7}
    sky = instrument("sky_1", certificate("sky_1", longwave=longwave), thermistor=thermistor)
    others = [instrument(p) for p in KINDS if p != "sky_1"]
    config = station_config(instruments=[sky, *others])
    row = next(
        r
        for r in coefficient_rows(config, CalibrateSettings(), START, END)
        if r.position == "sky_1"
    )
    assert row.equation == "philipona"
    assert dict(row.constants) == {"k1": 0.05, "k2": 1.0, "k3": 3.5}
    assert row.thermistor == (1.0295e-3, 2.391e-4, 1.568e-7)


IPS = {
    "scale": "IPS 1956",
    "to": "WRR",
    "factor": 1.022,
    "until": "1981-01-01",
    "source": "WMO-No. 8, chapter 7 (2008, updated 2010)",
}


def expressed(date: str = "1975-06-01", **changes: Any) -> list[Coefficients]:
    """Rows of a global whose certificate stands on the scale of 1956, for a day in 1976."""
    old = certificate("global_1", date=date, reference_scale="IPS 1956")
    mine = instrument("global_1", old)
    early = deployment("global_1", **{"from": "1975-07-01"})
    config = station_config(instruments=[mine, *OTHERS])
    log = FieldLog.model_validate({"entries": [early]})
    config = type(config)(config.station, config.inventory, log, config.review)
    plain = {"expressed_in": {"shortwave": "WRR"}, "scale_factors": [IPS | changes]}
    settings = CalibrateSettings.model_validate(plain)
    start = parse_utc("1990-01-01")
    return list(coefficient_rows(config, settings, start, start + DAY))


def test_values_expressed_on_another_scale() -> None:
    """WMO-No. 8, ch. 7: irradiance on IPS 1956 times 1.022 stands on the WRR."""
    (row,) = expressed()
    assert row.sensitivity_points[0][1] == pytest.approx(8.0 / 1.022, rel=1e-15)
    assert (row.reference_scale, row.scale_factor) == ("WRR", 1.022)


def test_factors_hold_for_certificates_of_their_dates() -> None:
    """None for this date: an error that names certificate, date and scales."""
    with pytest.raises(ValueError, match=r"1981-01-01: no factor .* from IPS 1956 to WRR"):
        expressed(date="1981-01-01")
    with pytest.raises(ValueError, match="no factor"):
        expressed(**{"from": "1976-01-01"})


def test_fixed_holds_one_certificate_for_all_time() -> None:
    """Before its date too, and whatever came later."""
    mine = instrument("global_1", certificate("global_1"), newer(8.4))
    config = station_config(instruments=[mine, *OTHERS])
    settings = CalibrateSettings(policy="fixed", fixed_certificates={"NR-global_1": "NC-new"})
    got = coefficient_rows(config, settings, START, END)
    assert [(r.position, r.sensitivity_points[0][1]) for r in got] == [("global_1", 8.4)]
    assert (got[0].start, got[0].end, got[0].certified) == (START, END, NEW)


def test_rows_by_position_and_time() -> None:
    """The order does not depend on the order of writing."""
    config = station_config({"main": logger(("sky_1", "direct_1", "global_1"))})
    got = coefficient_rows(config, CalibrateSettings(), START, END)
    assert [r.position for r in got] == ["direct_1", "global_1", "sky_1"]


def test_spans_of_certificates() -> None:
    """Each until the next, the last until further notice; none without certificates."""
    item = Instrument.model_validate(instrument("global_1", certificate("global_1"), newer()))
    assert [(a, b) for _, _, a, b in certificate_spans(item)] == [(OLD, NEW), (NEW, FAR_FUTURE)]
    bare = Instrument.model_validate(instrument("global_1") | {"calibrations": []})
    assert certificate_spans(bare) == ()
    assert NEW - OLD == 365 * DAY
