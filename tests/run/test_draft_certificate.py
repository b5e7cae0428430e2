"""The draft certificate: refused as it is, accepted once a person has given it its number."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from campaign_project import SERIAL, project
from sunledger.config.loading import load_station
from sunledger.config.models.base import parse_utc
from sunledger.config.models.processing import Processing
from sunledger.config.resolve import resolve_period
from sunledger.errors import ConfigError
from sunledger.run.campaigning import Compared, compare
from sunledger.run.draft_certificate import campaign_lines, draft, draft_yaml


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> Compared:
    """Return the generated campaign computed."""
    return compare(project(tmp_path_factory.getbasetemp())[0])


def entered(done: Compared, folder: Path, text: str) -> Path:
    """A copy of the station with the text put behind the instrument's first certificate."""
    shutil.copytree(done.loaded.config.folder, folder)
    path = folder / "instruments.yaml"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    mine = next(i for i, line in enumerate(lines) if SERIAL in line)
    place = [i for i in range(mine, len(lines)) if "- certificate:" in lines[i]][1]
    path.write_text("".join([*lines[:place], text, *lines[place:]]), encoding="utf-8")
    return folder


def test_a_draft_is_refused_with_its_line(done: Compared, tmp_path: Path) -> None:
    """Nobody can enter it unread."""
    with pytest.raises(ConfigError, match=r"instruments.yaml:\d+: .*is a draft; check it") as told:
        load_station(entered(done, tmp_path / "s", draft_yaml(done)))
    assert len(told.value.faults) == 1


def test_a_checked_draft_loads_and_is_used(done: Compared, tmp_path: Path) -> None:
    """With a number of its own, the sensitivity holds from its date on."""
    text = draft_yaml(done).replace(f"DRAFT {SERIAL} ", "NMR-C-31-0999 ")
    config = load_station(entered(done, tmp_path / "s", text))
    start = parse_utc("2031-04-20")
    period = resolve_period(config, Processing(), start, start + 86400)
    row = next(r for r in period.coefficients if r.position == "global_1")
    assert row.certificate.startswith("NMR-C-31-0999")
    assert row.sensitivity_points[0][1] == float(f"{done.result.responsivity:.5g}")
    certificate = next(
        c
        for c in config.inventory.by_serial()[SERIAL].calibrations
        if c.certificate == row.certificate
    )
    stated = certificate.expanded_uncertainty / 100 / certificate.coverage_factor
    assert stated == pytest.approx(done.result.combined, rel=0.01)
    assert certificate.reference_scale == "WRR"
    assert certificate.offset_in_responsivity == "absorbed"
    assert "NMR-C-30-0121" in certificate.traceability
    assert "NMR-C-30-0118" in certificate.traceability


def test_entering_it_does_not_change_the_campaign(done: Compared, tmp_path: Path) -> None:
    """The same campaign computed again after the draft was entered."""
    base = done.loaded.config.folder.parent
    text = draft_yaml(done).replace(f"DRAFT {SERIAL} ", "NMR-C-31-0999 ")
    entered(done, base / "entered", text)
    plan = (base / "plan.yaml").read_text().replace('"station"', '"entered"')
    (base / "plan_entered.yaml").write_text(plan, encoding="utf-8")
    file = (base / "campaign.yaml").read_text().replace("plan.yaml", "plan_entered.yaml")
    (base / "campaign_entered.yaml").write_text(file, encoding="utf-8")
    assert compare(base / "campaign_entered.yaml").result.responsivity == (done.result.responsivity)


def test_date_is_that_of_the_last_series(done: Compared) -> None:
    last = np.datetime64(int(done.result.selected.day.max()), "D")
    assert draft(done)["date"] == str(last)
    assert draft(done)["expanded_uncertainty"] >= 100 * done.result.expanded


def test_words_hold_the_budget_and_what_was_left_out(done: Compared) -> None:
    """The squares of the parts add up to that of the combined uncertainty; all minutes counted."""
    text = "\n".join(campaign_lines(done))
    assert "component sum of direct and shaded diffuse, after ISO 9846" in text
    assert "no text of a standard was at hand" in text
    for reason, number in done.result.selected.left_out:
        assert f"  {number} {reason}" in text
    squares = sum(p.standard**2 for p in done.result.parts)
    assert squares**0.5 == pytest.approx(done.result.combined)
    assert "since NMR-C-30-0117 of 2030-06-14" in text
