"""Campaigns from raw files to a responsivity: known truth recovered, bad campaigns refused."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

import rich_project
import small_project
from campaign_project import POSITION, campaign, changed, project
from invented import certificate
from sunledger.errors import CampaignError, ConfigError
from sunledger.run.campaigning import Compared, compare


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the campaign's file."""
    return project(tmp_path_factory.getbasetemp())[0]


@pytest.fixture(scope="module")
def done(file: Path) -> Compared:
    """Return the campaign computed."""
    return compare(file)


def test_true_sensitivity_within_the_stated_uncertainty(file: Path, done: Compared) -> None:
    """All instruments err as the generator drew them; the certificate before is 0.6 % off.

    The generator knows zero offsets, lean, temperature, clock drift and clouds; nothing of it is
    told to the pipeline.
    """
    true = json.loads((file.parent / "true.json").read_text())
    found = done.result.responsivity
    assert abs(found / true - 1.0) < done.result.expanded
    assert done.result.expanded < 0.025
    assert np.unique(done.result.selected.day).size >= 3


def test_other_units_and_other_weather(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Another seed of the generator."""
    other, true = project(tmp_path_factory.getbasetemp(), 23)
    done = compare(changed(other, "lenient.yaml", selection={"largest_zenith": 72}))
    assert abs(done.result.responsivity / true - 1.0) < done.result.expanded


def test_a_changed_reference_changes_the_result(file: Path, done: Compared) -> None:
    """1 % less sensitivity of both references is 1 % more light, so 1 % less responsivity."""
    station = file.parent / "station" / "instruments.yaml"
    before = station.read_text()
    text = before.replace("as_left: 7.88", "as_left: 7.8012").replace(
        "as_left: 9.04", "as_left: 8.9496"
    )
    assert text.count("7.8012") == text.count("8.9496") == 1
    station.write_text(text, encoding="utf-8")
    try:
        found = compare(file).result.responsivity
    finally:
        station.write_text(before, encoding="utf-8")
    assert found / done.result.responsivity == pytest.approx(0.99, abs=2e-4)


def test_the_old_certificate_plays_no_part(file: Path, done: Compared) -> None:
    """Only its response tables do: another sensitivity before gives the same one now."""
    station = file.parent / "station" / "instruments.yaml"
    before = station.read_text()
    assert before.count("as_left: 8.63") == 1
    station.write_text(before.replace("as_left: 8.63", "as_left: 9.3"), encoding="utf-8")
    try:
        found = compare(file).result.responsivity
    finally:
        station.write_text(before, encoding="utf-8")
    assert found == pytest.approx(done.result.responsivity, rel=1e-6)


def test_comparison_with_a_twin(tmp_path: Path) -> None:
    """By hand: the twin's signal is 0.99 of the other's at 8 uV W-1 m2, so it has 7.92.

    The light is that of the published month, clouds and all; the twin's own certificate says 8.
    """
    workflow = rich_project.write_project(tmp_path)
    plain = certificate("global_1")
    small_project.edit(
        workflow, "station/instruments", lambda i: i["instruments"][0].update(calibrations=[plain])
    )
    lenient = {"largest_unsteadiness": 20, "least_series": 4, "least_days": 2}
    content = campaign(
        workflow="workflow.yaml",
        station="tst",
        position="global_2",
        method="comparison",
        components=None,
        reference="global_1",
        selection=lenient,
        **{"from": "2031-06-29", "until": "2031-07-02"},
    )
    (tmp_path / "twin.yaml").write_text(json.dumps(content), encoding="utf-8")
    found = compare(tmp_path / "twin.yaml")
    assert found.result.responsivity == pytest.approx(7.92, rel=1e-5)
    assert found.result.selected.responsivity.size >= 4
    # the reference's own 1.2 % and its class's limits cannot be got below
    assert 0.012 < found.result.expanded < 0.04


def test_too_few_series_says_why(file: Path) -> None:
    """What is missing, and what the minutes were left out for."""
    strict = changed(file, "strict.yaml", selection={"largest_unsteadiness": 0.01})
    with pytest.raises(CampaignError, match=r"0 series on 0 days count; needed: 12 on 3") as told:
        compare(strict)
    assert "in series that depart from a line by more than 0.01 %" in str(told.value)


def test_clouds_leave_no_series(file: Path) -> None:
    """An overcast afternoon alone is no campaign."""
    short = changed(file, "short.yaml", **{"from": "2031-03-25 15:30", "until": "2031-03-25 17:00"})
    with pytest.raises(CampaignError, match="too little to calibrate by"):
        compare(short)


def test_clocks_apart_are_not_compared(file: Path) -> None:
    """A bound below the drift of the two clocks leaves nothing, and says so."""
    plan = json.loads((file.parent / "plan.yaml").read_text())
    settings = file.parent / "apart.yaml"
    settings.write_text('{"time_correct": {"clocks_apart": 0.001}}', encoding="utf-8")
    other = file.parent / "plan_apart.yaml"
    other.write_text(json.dumps(plan | {"processing": "apart.yaml"}), encoding="utf-8")
    strict = changed(file, "apart_campaign.yaml", workflow="plan_apart.yaml")
    with pytest.raises(CampaignError, match=r"\d{3,} clocks more than 0.001 s apart"):
        compare(strict)


def test_a_campaign_beyond_the_data(file: Path) -> None:
    """No raw file of that time: nothing counts."""
    later = changed(file, "later.yaml", **{"from": "2031-04-20", "until": "2031-04-25"})
    with pytest.raises(CampaignError, match="0 series on 0 days"):
        compare(later)


def test_configuration_is_checked_before_data(file: Path) -> None:
    """A fault of the file, not a failed run."""
    wrong = changed(file, "wrong.yaml", position="global_9")
    with pytest.raises(ConfigError, match=r"wrong\.yaml:4: position: no such position"):
        compare(wrong)
    assert POSITION == "global_1"
