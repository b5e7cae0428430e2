"""Where errors come from: by hand, and what is shared by instruments, loggers, scales, clocks."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_allclose

import signal_ways
from invented import (
    MARCH,
    QUANTITY,
    SENSITIVITY,
    certificate,
    deployment,
    instrument,
    logger,
    period,
    readings,
    station_config,
    timed,
)
from splits import Parts, parts_of_split
from sunledger.config.loading import StationConfig
from sunledger.config.models.processing import Processing
from sunledger.config.resolve import Period
from sunledger.stages.aggregate import minute_cells
from sunledger.stages.calibrate import calibrate
from sunledger.stages.error_sources import split_of_minutes
from sunledger.stages.mean_uncertainty import mean_uncertainty
from sunledger.stages.time_correct import time_correct
from sunledger.stages.uncertain_minutes import budget_of_minute

FOUR = ("ghi", "dhi", "dni", "lwd")
PLACE = 700
FOLLOWS = ("non_stability", "non_linearity", "temperature", "spectral", "shade_geometry")


def minutes_of(config: StationConfig) -> tuple[xr.Dataset, Period]:
    resolved = period(config)
    ds = timed(config, resolved, *(readings(config, name) for name in config.station.loggers))
    return time_correct(calibrate(ds, resolved), resolved), resolved


@pytest.fixture(scope="module")
def made() -> tuple[xr.Dataset, Period]:
    return minutes_of(station_config())


def parts_of(made: tuple[xr.Dataset, Period], quantity: str) -> Parts:
    found = split_of_minutes(*made)(quantity)
    assert found is not None
    return parts_of_split(found)


def serial_of(made: tuple[xr.Dataset, Period], quantity: str) -> str:
    return next(r.serial_number for r in made[1].coefficients if r.quantity == quantity)


@pytest.mark.parametrize("quantity", FOUR)
def test_the_parts_make_the_stated_uncertainty(
    made: tuple[xr.Dataset, Period], quantity: str
) -> None:
    """Their squares add up to that of every minute, to the step in which it is archived."""
    stated = made[0][f"{quantity}_uncertainty"].values.astype(float)
    parts = parts_of(made, quantity)
    every = (*parts.common.values(), *parts.day.values(), parts.sample)
    known = np.isfinite(stated)
    got = np.sqrt(sum(np.square(p.astype(float)) for p in every))
    assert known.sum() > 1400
    assert_allclose(got[known], stated[known], atol=2.0**-7, rtol=1e-6)
    assert not any("unknown" in name for name in parts.common)


@pytest.mark.parametrize("quantity", FOUR)
def test_parts_are_those_of_the_components(made: tuple[xr.Dataset, Period], quantity: str) -> None:
    """Of the day, of what follows the signal, of the logger's gain and of the scale."""
    parts, serial = parts_of(made, quantity), serial_of(made, quantity)
    found = budget_of_minute(*made, quantity, PLACE)
    assert found is not None
    components, sizes = found

    def together(*of: float) -> float:
        return 2.0 * float(np.sqrt(np.sum(np.square(of))))

    day = together(*(sizes[c.name] for c in components if c.common == "day"))
    assert together(*(p[PLACE] / 2 for p in parts.day.values())) == pytest.approx(day, rel=1e-6)
    gain = abs(parts.common["gain of main"][PLACE])
    assert gain == pytest.approx(2 * sizes["logger_gain"], rel=1e-6)
    # of the certificate's standard uncertainty of 0.6 % the scale has 0.3 % at a level of 99 %
    share = 0.3 / 2.576 / 0.6
    scale = abs(parts.common["scale WRR"][PLACE])
    assert scale == pytest.approx(2 * sizes["calibration"] * share, rel=5e-3)
    own = sizes["calibration"] * np.sqrt(1.0 - share**2)
    follows = together(own, *(sizes[name] for name in FOLLOWS if name in sizes))
    assert abs(parts.common[f"{serial} signal"][PLACE]) == pytest.approx(follows, rel=1e-4)


def test_shared_parts_have_the_sign_of_the_signal(made: tuple[xr.Dataset, Period]) -> None:
    """A gain too high makes global larger and the net longwave term more negative."""
    assert (parts_of(made, "ghi").common["gain of main"] > 0).all()
    assert (parts_of(made, "lwd").common["gain of main"] < 0).any()
    assert split_of_minutes(*made)("swu") is None


def test_instruments_share_scale_gain_and_clock_alone(made: tuple[xr.Dataset, Period]) -> None:
    """All else goes by the serial number."""
    shared = {"scale WRR", "gain of main", "clock of main"}
    ghi, dni = (parts_of(made, q).common.keys() for q in ("ghi", "dni"))
    assert ghi & dni == shared
    assert all(name.startswith(serial_of(made, "ghi")) for name in ghi - shared)


def test_another_logger_and_scale_share_nothing() -> None:
    """Direct on a logger of its own and on another scale."""
    papers = {p: certificate(p) for p in SENSITIVITY}
    papers["direct_1"]["reference_scale"] = "of its own"
    here = tuple(p for p in SENSITIVITY if p != "direct_1")
    loggers = {
        "main": logger(here),
        "beam": logger(("direct_1",), serial_number="NR-LG-2", files=["beam.csv"]),
    }
    both = minutes_of(station_config(loggers, [instrument(p, papers[p]) for p in SENSITIVITY]))
    ghi, dni = (parts_of(both, q).common.keys() for q in ("ghi", "dni"))
    assert not ghi & dni
    assert {"gain of beam", "clock of beam", "scale of its own"} <= dni


def test_an_exchanged_instrument_brings_errors_of_its_own() -> None:
    """Both have the scale; what follows the signal of one is 0 in the time of the other."""
    change = MARCH + 720 * 60
    units = [instrument(p) for p in QUANTITY]
    other = instrument("global_1", serial_number="NR-2")
    stays: list[dict[str, Any]] = [
        deployment("global_1", id="ends", until=change, corrects="dep-global_1", reason="ended"),
        deployment("global_1", id="next", instrument="NR-2", **{"from": change}),
    ]
    both = minutes_of(station_config(instruments=[*units, other], entries=stays))
    parts = parts_of(both, "ghi").common
    first, second = parts[f"{units[0]['serial_number']} signal"], parts["NR-2 signal"]
    assert (first[:720] != 0).any()
    assert (second[720:] != 0).any()
    assert not first[720:].any()
    assert not second[:720].any()
    assert (parts["scale WRR"] != 0).sum() == (first != 0).sum() + (second != 0).sum()


def test_the_clock_lasts_with_the_sign_of_the_change() -> None:
    """A rectangular half-width of 1 s and 10 s of lag; light that rises counts against fall."""
    disciplined = logger(tuple(SENSITIVITY), clock={"discipline": "time_signal"})
    made = minutes_of(station_config({"main": disciplined}))
    ds, parts, serial = made[0], parts_of(made, "ghi"), serial_of(made, "ghi")
    value = ds["ghi"].values.astype(float)
    slope = (value[PLACE + 1] - value[PLACE - 1]) / 2.0
    residual = abs(float(ds["clock_residual_main"].values[PLACE]))
    late, lag = 1.0 + residual, 10.0
    expected = 2 / 3**0.5 * (late + lag) / 60.0 * slope * np.sqrt(late / (late + lag))
    assert slope != 0.0
    assert parts.common["clock of main"][PLACE] == pytest.approx(expected, rel=1e-3)
    own = parts.common[f"{serial} lag"][PLACE]
    assert own == pytest.approx(expected * np.sqrt(lag / late), rel=1e-3)


def test_what_the_minutes_state_beyond_the_parts_stays() -> None:
    """Twice the uncertainty: the rest is one error of unknown source in the quantity."""
    ds, resolved = minutes_of(station_config())
    wider = ds.assign(ghi_uncertainty=2.0 * ds["ghi_uncertainty"])
    stated = ds["ghi_uncertainty"].values[PLACE]
    rest = parts_of((wider, resolved), "ghi").common["unknown of ghi"]
    assert rest[PLACE] == pytest.approx(np.sqrt(3.0) * stated, rel=1e-3)


def test_recorded_soiling_is_common_in_means() -> None:
    """It makes the minutes less certain, and is neither of a day nor independent."""
    wash = {"id": "cl", "type": "cleaning", "time": MARCH + 800 * 60, "positions": ["global_1"],
            "found": "dust", "role": "keeper", "soiled_since": MARCH + 600 * 60}  # fmt: skip
    clean, soiled = (minutes_of(station_config(entries=e)) for e in ([], [wash]))
    stated = [one[0]["ghi_uncertainty"].values for one in (clean, soiled)]
    assert (stated[1][600:800] > stated[0][600:800]).all()
    np.testing.assert_array_equal(stated[1][800:], stated[0][800:])
    before, after = (parts_of(one, "ghi") for one in (clean, soiled))
    np.testing.assert_array_equal(after.sample, before.sample)
    for name, part in before.day.items():
        np.testing.assert_array_equal(after.day[name], part)
    dirt = after.common[f"{serial_of(soiled, 'ghi')} soiling"]
    assert (dirt[600:800] > 0).any()
    assert not dirt[800:].any()


@pytest.mark.parametrize("together", [0.25, 1.0])
def test_certificates_of_one_laboratory_err_together_as_stated(together: float) -> None:
    """Covariance r u1 u2 beyond the scale (JCGM 100:2008, 5.2.2); the whole stays as it is.

    u1 and u2 are those of 1.2 and 1.2 % (k = 2) less the scale's 0.3 % at a level of 99 %.
    """
    settings = Processing.model_validate({"uncertainty": {"laboratory_correlation": together}})
    config = station_config()
    resolved = period(config, processing=settings)
    ds = timed(config, resolved, readings(config))
    made = time_correct(calibrate(ds, resolved), resolved), resolved
    ghi, dni = (parts_of(made, q) for q in ("ghi", "dni"))
    (name,) = (n for n in ghi.common if n.startswith("laboratory "))
    values = [float(made[0][q].values[PLACE]) for q in ("ghi", "dni")]
    percent = [
        r.relative_uncertainty for r in resolved.coefficients if r.quantity in ("ghi", "dni")
    ]
    beyond = [np.sqrt(u**2 - (0.003 / 2.58) ** 2) * v for u, v in zip(percent, values, strict=True)]
    expected = together * 4.0 * beyond[0] * beyond[1]
    got = ghi.common[name][PLACE] * dni.common[name][PLACE]
    assert got == pytest.approx(expected, rel=1e-3)
    whole = [*ghi.common.values(), *ghi.day.values(), ghi.sample]
    stated = made[0]["ghi_uncertainty"].values[PLACE]
    assert np.sqrt(sum(p[PLACE] ** 2 for p in whole)) == pytest.approx(stated, rel=1e-4)


def test_each_device_on_the_way_brings_its_own_gain() -> None:
    """0.02 %, k = 2, by the certificate of the multiplexer, as much by that of the logger."""
    both = minutes_of(
        signal_ways.station(signal_ways.LOGGER, signal_ways.BOX, entries=[signal_ways.UP])
    )
    ghi, value = parts_of(both, "ghi").common, float(both[0]["ghi"].values[PLACE])
    for name in ("NR-MX-1-2030-01-01", "NR-LG-1-2031-02-01"):
        part = ghi[f"gain, certificate {name}"][PLACE]
        assert part == pytest.approx(2e-4 * value, rel=1e-4)
    assert "gain of main" not in ghi
    assert "gain of main" in parts_of(both, "dhi").common


def test_an_ageing_certificate_leaves_no_trace_of_the_cut() -> None:
    """It turns a year old at noon: sums of hours are the same bits from the day and its halves."""
    papers = [instrument(p, certificate(p, date="2030-02-28")) for p in SENSITIVITY]
    ds, resolved = minutes_of(station_config(instruments=papers))
    aged = MARCH + 720 * 60 - round(365.25 * 86400)
    rows = tuple(
        replace(row, sensitivity_points=tuple((aged, value) for _, value in row.sensitivity_points))
        for row in resolved.coefficients
    )
    resolved = replace(resolved, coefficients=rows)
    whole = minute_cells(ds, resolved, ("hourly",))["hourly"]
    ages = [split_of_minutes(ds, resolved)(q) for q in ("ghi", "dni")]
    assert all(one is not None and any(len(f) > 1 for f in one.sources.values()) for one in ages)
    for first, past in ((0, 660), (660, 1440)):
        near = slice(max(first - 10, 0), past + 10)
        mine = replace(resolved, start=MARCH + 60 * first, end=MARCH + 60 * past)
        half = minute_cells(ds.isel(time=near), mine, ("hourly",))["hourly"]
        for name, values in half.sums.items():
            hours = whole.sums.get(name, np.zeros(24))[first // 60 : past // 60]
            np.testing.assert_array_equal(values, hours, err_msg=name)


@pytest.mark.parametrize("quantity", FOUR)
def test_a_missing_minute_does_not_take_the_uncertainty_of_its_hour(
    made: tuple[xr.Dataset, Period], quantity: str
) -> None:
    """One minute without value, temperature and all: 59 say nearly the same as 60."""
    mine = [n for n, v in made[0].data_vars.items() if str(n).startswith(quantity)]
    numbers = [n for n in mine if made[0][n].dtype.kind == "f"]
    one = made[0]["time"] == made[0]["time"][PLACE]
    gap = made[0].assign({n: made[0][n].where(~one) for n in numbers})
    found = [
        mean_uncertainty(minute_cells(ds, made[1], ("hourly",))["hourly"].sums_of[quantity])
        for ds in (made[0], gap)
    ]
    assert np.isfinite(found[0]).all()
    assert_allclose(found[1], found[0], rtol=0.05)
