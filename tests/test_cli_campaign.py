"""The campaign command: words as comments, a draft as YAML, errors by exit code."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from typer.testing import CliRunner, Result

from campaign_project import changed, project
from make_sample import SEED
from northmere.draws import draw
from northmere.scenario import SCENARIOS
from sunledger.cli import app

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a campaign on generated data."""
    return project(tmp_path_factory.getbasetemp())[0]


def call(file: Path) -> Result:
    """The command line, as a person calls it."""
    return CliRunner().invoke(app, ["campaign", str(file)])


def test_output_is_one_yaml_file(file: Path) -> None:
    """A list of one certificate, and everything else in comments."""
    done = call(file)
    assert done.exit_code == 0, done.output
    (found,) = yaml.safe_load(done.output)
    assert found["certificate"] == "DRAFT NMR-G-1041 2031-04-03"
    assert 8.4 < found["sensitivity"]["as_left"] < 8.7
    assert "# combined 0." in done.output


def test_the_worked_example_holds_the_truth_of_the_sample() -> None:
    """The campaign in configs/ on the sample data, whose generator knows the true sensitivity."""
    done = call(ROOT / "configs/stations/ossel_ridge/campaigns/2031-04_global.yaml")
    assert done.exit_code == 0, done.output
    (found,) = yaml.safe_load(done.output)
    drawn = draw(SCENARIOS["osr"], SEED).of("NMR-G-1041", "sensitivity_error")
    true = SCENARIOS["osr"].instrument("NMR-G-1041").certificates[0].sensitivity * (1 + drawn)
    miss = 100 * abs(found["sensitivity"]["as_left"] / true - 1)
    assert miss < found["expanded_uncertainty"] < 2.5


def test_too_little_exits_with_1(file: Path) -> None:
    strict = changed(file, "cli_strict.yaml", selection={"least_days": 30})
    done = call(strict)
    assert done.exit_code == 1
    assert "too little to calibrate by" in done.output


def test_wrong_configuration_exits_with_2(file: Path) -> None:
    done = call(changed(file, "cli_wrong.yaml", position="global_7", laboratory=""))
    assert done.exit_code == 2
    assert "cli_wrong.yaml:" in done.output
