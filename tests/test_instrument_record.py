"""What the record of instruments does to an archive, from raw files to published versions."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_allclose

import invented
import rich_project
import small_project
from rich_project import EXTRA, SHARE, TURN, minute_of
from sunledger.archive.manifest import read_manifest
from sunledger.config.models.workflow import MonthRange
from sunledger.errors import ConfigError
from sunledger.physics.temperature_response import relative_response
from sunledger.run.explaining import explain, explanation_text
from sunledger.run.job import Choice, run
from sunledger.run.tracing import trace
from sunledger.vocabulary import CONDITIONS, QUANTITIES

STEP = 2.0**-7
"""To which the archive rounds irradiance. [W m-2]"""


JUNE = MonthRange(first="2031-06", last="2031-06")


def made(workflow: Path, months: MonthRange | None = None) -> Path:
    """Run, and return the archive's folder of the station."""
    _, outcomes = run(workflow, Choice(months), lambda *_: None)
    failed = [o.error for o in outcomes if o.done == "failed"]
    assert failed == []
    return workflow.parent / "archive" / small_project.STATION


def opened(folder: Path, product: str, period: str, part: str = "") -> xr.Dataset:
    """A product as anybody opens it, in memory."""
    words = "_".join(filter(None, (small_project.STATION, product, part, period)))
    with xr.open_dataset(folder / product / f"{words}.nc", decode_times=False) as ds:
        return ds.load()


@pytest.fixture(scope="module")
def rich(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the archive of the rich project."""
    return made(rich_project.write_project(tmp_path_factory.mktemp("rich")))


@pytest.fixture
def plain(tmp_path_factory: pytest.TempPathFactory, tmp_path: Path) -> Path:
    """Return the workflow of a copy of the small project, made already."""
    once = small_project.made_once(tmp_path_factory.getbasetemp())
    return small_project.copy_of(once, tmp_path / "copy")


def rows_of(folder: Path, period: str, position: str) -> list[dict[str, Any]]:
    """Coefficients in the manifest of a month of minutes."""
    path = folder / "minute" / f"{small_project.STATION}_minute_{period}.nc"
    held = read_manifest(path).resolved_configuration["coefficients"]
    return [row for row in held if row["position"] == position]


def told(folder: Path, quantity: str) -> str:
    """The explanation of a value of a forenoon."""
    found = trace(folder.parent, small_project.STATION, quantity, minute_of("2031-06-29", "11:00"))
    return explanation_text(explain(found))


# --- scales ----------------------------------------------------------------------------------

FACTOR = {"scale": "WRR", "to": "invented scale", "factor": 1.0034, "source": "invented"}


def to_another_scale(processing: dict[str, Any]) -> None:
    """Ask for all shortwave on another scale."""
    more = {"expressed_in": {"shortwave": "invented scale"}, "scale_factors": [FACTOR]}
    processing["calibrate"].update(more)


def test_a_series_on_another_scale_is_a_new_version(plain: Path) -> None:
    """Every minute times the factor, in a second version; voltages and the first stay."""
    folder = plain.parent / "archive" / small_project.STATION
    before = {p: opened(folder, "minute", p) for p in ("2031-06", "2031-07")}
    voltages = opened(folder, "voltage", "2031-06", "main")
    small_project.edit(plain, "processing", to_another_scale)
    made(plain)
    for period, old in before.items():
        new = opened(folder, "minute", period)
        for quantity in ("ghi", "dhi", "dni"):
            assert np.isfinite(old[quantity]).sum() > 1000
            assert_allclose(new[quantity], old[quantity] * 1.0034, atol=1.01 * STEP)
        path = folder / "minute" / f"{small_project.STATION}_minute_{period}.nc"
        assert read_manifest(path).version == 2
        (row,) = rows_of(folder, period, "global_1")
        assert (row["reference_scale"], row["scale_factor"]) == ("invented scale", 1.0034)
    assert len(list((folder / "minute").rglob("*2031-06*.nc"))) == 2  # the first is kept
    day = opened(folder, "daily", "2031")["ghi"].values
    assert np.isfinite(day).any()
    kept = xr.open_dataset(
        folder / "minute" / "tst_minute_2031-06.nc", group="metadata/calibration"
    )
    with kept:
        assert set(kept["reference_scale"].values) == {"WRR"}
        assert set(kept["expressed_on_scale"].values) == {"invented scale"}
        assert_allclose(kept["expression_factor"], 1.0034)
    main = "voltage/tst_voltage_main_2031-06.nc"
    assert read_manifest(folder / main).version == 2  # its tables say the scale; readings stay
    now = opened(folder, "voltage", "2031-06", "main")["global_1_mean"]
    assert_allclose(now, voltages["global_1_mean"], rtol=0)
    text = told(folder, "ghi")
    assert "scale WRR" in text
    assert "expressed on invented scale, factor 1.0034 on irradiance" in text


def test_scales_are_never_mixed_silently(plain: Path) -> None:
    """A certificate of another scale stops the run until a factor is given."""
    other = {"reference_scale": "older scale"}
    small_project.edit(
        plain,
        "station/instruments",
        lambda i: i["instruments"][1]["calibrations"][0].update(other),
    )
    with pytest.raises(ConfigError, match="other shortwave values stand on older scale"):
        run(plain, Choice(), lambda *_: None)
    older = {"scale": "older scale", "to": "WRR", "factor": 0.99, "source": "invented"}
    asked = {"expressed_in": {"shortwave": "WRR"}, "scale_factors": [older]}
    small_project.edit(plain, "processing", lambda p: p["calibrate"].update(asked))
    folder = plain.parent / "archive" / small_project.STATION
    before = opened(folder, "minute", "2031-06")
    made(plain, JUNE)
    now = opened(folder, "minute", "2031-06")
    assert_allclose(now["dhi"], before["dhi"] * 0.99, atol=1.01 * STEP)
    assert_allclose(now["ghi"], before["ghi"], atol=1e-12)


# --- a certificate that came later --------------------------------------------------------------


def later(workflow: Path) -> None:
    """A certificate of October, 2 % more than that of June 2030."""
    paper = invented.certificate(
        "global_1",
        certificate="NC-after",
        date="2031-10-01",
        sensitivity={"as_found": 8.16, "as_left": 8.2, "unit": "uV W-1 m2"},
    )
    small_project.edit(
        workflow, "station/instruments", lambda i: i["instruments"][0]["calibrations"].append(paper)
    )


def test_a_later_certificate_changes_earlier_months(plain: Path) -> None:
    """Each minute by what its own instant lies between, as found; the manifest shows both."""
    folder = plain.parent / "archive" / small_project.STATION
    before = opened(folder, "minute", "2031-06")
    later(plain)
    made(plain, JUNE)
    now = opened(folder, "minute", "2031-06")
    first, last = (minute_of(d, "00:00") for d in ("2030-06-01", "2031-10-01"))
    share = (now["time"].values + 0.0 - first) / (last - first)
    assert 0.74 < share.min() < share.max() < 0.82
    assert_allclose(now["ghi"], before["ghi"] * 8.0 / (8.0 + 0.16 * share), atol=1.02 * STEP)
    assert_allclose(now["dhi"], before["dhi"], atol=1e-12)
    (row,) = rows_of(folder, "2031-06", "global_1")
    assert row["sensitivity_points"] == [[first, 8.0], [last, 8.16]]
    assert read_manifest(folder / "minute" / "tst_minute_2031-06.nc").version == 2


def test_latest_before_leaves_them(plain: Path) -> None:
    """Under that policy the earlier months keep version and values."""
    hold = {"policy": "latest_before"}
    small_project.edit(plain, "processing", lambda p: p["calibrate"].update(hold))
    folder = made(plain, JUNE)
    before = read_manifest(folder / "minute" / "tst_minute_2031-06.nc").version
    later(plain)
    made(plain, JUNE)
    assert read_manifest(folder / "minute" / "tst_minute_2031-06.nc").version == before
    (row,) = rows_of(folder, "2031-06", "global_1")
    assert [value for _, value in row["sensitivity_points"]] == [8.0]


# --- several positions, status, more quantities -------------------------------------------------


def test_twins_side_by_side_and_a_dated_primary(rich: Path) -> None:
    """Both positions stand in the file throughout; the plain name changes hands on its date."""
    june, july = opened(rich, "minute", "2031-06"), opened(rich, "minute", "2031-07")
    turn = minute_of(TURN, "00:00")
    for ds in (june, july):
        first, second = (ds[f"ghi_at_{p}"].values for p in ("global_1", "global_2"))
        assert np.isfinite(first).sum() == np.isfinite(second).sum() > 1000
        late = ds["time"].values >= turn
        assert_allclose(ds["ghi"].values[late], second[late])
        assert_allclose(ds["ghi"].values[~late], first[~late])
        for word in ("conditions", "uncertainty"):
            assert f"ghi_at_global_2_{word}" in ds
    path = rich / "minute" / "tst_minute_2031-06.nc"
    with xr.open_dataset(path, group="metadata/deployment") as t:
        where = dict(zip(t["serial_number"].values, t["position"].values, strict=True))
    assert (where["NR-global_1"], where["NR-global_2"]) == ("global_1", "global_2")


def test_status_keeps_its_meanings(rich: Path) -> None:
    """In voltages and minutes alike, as CF has it."""
    for ds in (opened(rich, "voltage", "2031-06", "beam"), opened(rich, "minute", "2031-06")):
        mode = ds["tracker_mode"].attrs
        words = mode["flag_meanings"].split()
        meaning = dict(zip(mode["flag_values"].tolist(), words, strict=True))
        logged = {code: word for code, word in meaning.items() if word != "no_reading"}
        assert logged == {0: "off", 1: "tracking", 2: "homing"}


@pytest.mark.parametrize("position", list(SHARE))
def test_more_light_from_raw_file_to_hours(rich: Path, position: str) -> None:
    """In the share of global that was logged; hours are the means of their minutes."""
    quantity = EXTRA[position][0]
    ds = opened(rich, "minute", "2031-06")
    expected = ds["ghi_at_global_2"].values / rich_project.TWIN * SHARE[position]
    step = QUANTITIES[quantity].resolution
    assert ds[quantity].attrs["units"] == QUANTITIES[quantity].units
    assert_allclose(ds[quantity], expected, atol=max(2 * step, 0.012 * SHARE[position]))
    assert f"{quantity}_grade" in ds
    hours = opened(rich, "hourly", "2031")
    noon = int(np.flatnonzero(hours["time"].values == minute_of("2031-06-30", "11:00"))[0])
    inside = (ds["time"].values >= minute_of("2031-06-30", "11:00")) & (
        ds["time"].values < minute_of("2031-06-30", "12:00")
    )
    assert inside.sum() == 60
    assert hours[quantity].values[noon] == pytest.approx(
        float(ds[quantity].values[inside].astype(float).mean()), abs=step
    )


def test_longwave_up_and_wind_from_raw_file_to_hours(rich: Path) -> None:
    """The invented emission of the ground comes back; wind is scaled and averaged."""
    ds, hours = opened(rich, "minute", "2031-06"), opened(rich, "hourly", "2031")
    up = ds["lwu"].values
    day = rich_project.ground()
    begin = int(np.flatnonzero(ds["time"].values == minute_of("2031-06-29", "00:00"))[0])
    assert_allclose(up[begin : begin + 1440], day, atol=STEP)
    hour = int(np.flatnonzero(hours["time"].values == minute_of("2031-06-29", "05:00"))[0])
    assert hours["lwu"].values[hour] == pytest.approx(day[300:360].mean(), abs=STEP)
    assert hours["wind_speed"].values[hour] == pytest.approx(
        float((3.0 + np.sin(np.arange(300, 360) / 50.0)).mean()), abs=0.01
    )
    assert_allclose(ds["wind_from_direction"].values[begin : begin + 5], [0, 7, 14, 21, 28])


def test_explain_states_each_quantity_in_its_unit(rich: Path) -> None:
    """Photons are no watts, wherever the value comes from."""
    text = told(rich, "ppfd")
    assert "certified 5 uV umol-1 m2 s, expanded uncertainty" in text
    assert "sensitivity in force 5.0000 uV umol-1 m2 s" in text
    assert "signal over sensitivity" in text
    assert "umol m-2 s-1" in text
    assert "W m-2" not in text.replace("uV W-1 m2", "")


def test_which_certificate_made_each_value_is_in_the_tables(rich: Path) -> None:
    """By time and position alone, as a stranger would: it is the one of the manifest."""
    path = rich / "minute" / "tst_minute_2031-06.nc"
    with (
        xr.open_dataset(path, group="metadata/deployment", decode_times=False) as stood,
        xr.open_dataset(path, group="metadata/calibration", decode_times=False) as papers,
    ):
        stood.load(), papers.load()
    when = minute_of("2031-06-29", "11:00")
    for position in (*EXTRA, "global_1", "global_2", "diffuse_1", "direct_1"):
        end = np.nan_to_num(stood["deployment_end"].values, nan=np.inf)
        here = (stood["position"].values == position) & (end > when)
        (serial,) = stood["serial_number"].values[here & (stood["deployment_start"].values <= when)]
        mine = papers["certified_serial_number"].values == serial
        mine &= papers["calibration_time"].values <= when
        newest = np.argmax(np.where(mine, papers["calibration_time"].values, -np.inf))
        (row,) = rows_of(rich, "2031-06", position)
        assert papers["certificate"].values[newest] == row["certificate"]
        assert papers["sensitivity"].values[newest] == row["sensitivity_points"][0][1]


# --- what signals pass ---------------------------------------------------------------------------


def passing(workflow: Path, **certificate: Any) -> None:
    """The signal of the global passes input 1 of the logger, which has a certificate."""
    paper = {
        "input": "1",
        "certificate": "NC-input",
        "date": "2030-06-01",
        "laboratory": "own (invented)",
        "traceability": "SI (invented)",
        "gain": 1.002,
        "zero": 4.0,
        "expanded_uncertainty": 0.4,
    }
    way = [{"place": "main", "input": "1"}]
    small_project.edit(
        workflow,
        "station/station",
        lambda s: s["loggers"]["main"]["channels"][0].update(via=way),
    )
    small_project.edit(
        workflow,
        "station/instruments",
        lambda i: i["instruments"][3].update(inputs=[paper | certificate]),
    )


def test_certified_input_from_raw_file_to_archive(plain: Path) -> None:
    """Zero off, gain on, its uncertainty in the budget, its certificate in the file's tables."""
    folder = plain.parent / "archive" / small_project.STATION
    before = opened(folder, "minute", "2031-06")
    passing(plain)
    made(plain, JUNE)
    now = opened(folder, "minute", "2031-06")
    expected = (before["ghi"] * 8.0 - 4.0) * 1.002 / 8.0
    assert_allclose(now["ghi"], expected, atol=1.02 * STEP)
    path = folder / "minute" / "tst_minute_2031-06.nc"
    with xr.open_dataset(path, group="metadata/input_calibration") as table:
        row = {n: table[n].values[0] for n in ("input_certificate", "input_gain", "input_zero")}
        assert table["input_positions"].values[0] == "global_1"
    assert row == {"input_certificate": "NC-input", "input_gain": 1.002, "input_zero": 4.0}
    text = told(folder, "ghi")
    assert "way to the file: gain 1.002000, zero +4.000 uV, by NC-input" in text
    assert "logger zero -0.50 W m-2" in text
    # 0.4 % expanded is 0.2 % standard of the value
    (part,) = re.findall(r"logger gain (\d+\.\d+) W m-2, common", text)
    (value,) = re.findall(r"calibrated (\d+\.\d+) W m-2", text)
    assert float(part) == pytest.approx(0.002 * float(value), abs=0.006)


def test_input_without_certificate_is_said_and_marked(plain: Path) -> None:
    """A certificate that comes too late: a warning, and the condition on each minute."""
    passing(plain, date="2031-08-01")
    job, outcomes = run(plain, Choice(JUNE), lambda *_: None)
    assert not [o for o in outcomes if o.done == "failed"]
    assert any("input 1 of NR-LG-main at main has no certificate" in str(w) for w in job.warnings)
    folder = plain.parent / "archive" / small_project.STATION
    words = opened(folder, "minute", "2031-06")
    read = np.isfinite(words["ghi"].values)
    marked = words["ghi_conditions"].values.astype(np.int64)
    assert ((marked[read] & CONDITIONS["correction_not_applied"].mask) != 0).all()


# --- corrections ---------------------------------------------------------------------------------


def test_uncorrected_value_from_the_archive_alone(rich: Path) -> None:
    """Value less what the correction added is signal over sensitivity of the voltage file."""
    ds = opened(rich, "minute", "2031-06")
    first = ds["ghi_at_global_1"].values
    added = ds["ghi_at_global_1_temperature_response_correction"].values
    volts = opened(rich, "voltage", "2031-06", "main")
    name = next(n for n in volts.data_vars if n.startswith("global_1_mean"))
    logged = volts[name].values.astype(float) * 1000.0 / 8.0
    begin = int(np.flatnonzero(ds["time"].values == minute_of("2031-06-29", "00:00"))[0])
    assert np.nanmax(np.abs(added)) > 1.0
    assert_allclose((first - added)[begin : begin + 1440], logged[:1440], atol=1.5 * STEP)


def test_temperature_outside_the_certificate_is_applied_at_the_edge_and_counted(rich: Path) -> None:
    """Above 30 degC the value of 30 degC holds; each such minute is marked, the manifest counts."""
    ds = opened(rich, "minute", "2031-06")
    words = ds["ghi_at_global_1_conditions"].values.astype(np.int64)
    marked = (words & CONDITIONS["outside_certificate_range"].mask) != 0
    hot = rich_project.body() > 30.0
    begin = int(np.flatnonzero(ds["time"].values == minute_of("2031-06-29", "00:00"))[0])
    assert_allclose(marked[begin : begin + 1440], hot)
    added = ds["ghi_at_global_1_temperature_response_correction"].values[begin : begin + 1440]
    first = ds["ghi_at_global_1"].values[begin : begin + 1440]
    factor, _ = relative_response(rich_project.body() + 273.15, rich_project.TEMPERATURES)
    assert_allclose(factor[hot], 1.005)
    assert_allclose(added, first * (1.0 - factor), atol=1.5 * STEP)
    counted = read_manifest(rich / "minute" / "tst_minute_2031-06.nc").accounting["conditions"]
    before_turn = int(hot.sum())  # then the twin without a thermistor is the primary
    assert counted["ghi"]["outside_certificate_range"] == before_turn
