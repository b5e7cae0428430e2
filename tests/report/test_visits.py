"""Sheet and form of a station of a run plan."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sunledger.archive.findings_file import FindingsFile, findings_path, write_findings
from sunledger.config.loading import load_station
from sunledger.errors import ConfigError, SunledgerError
from sunledger.report.visits import open_findings, station_form, station_sheet, write_visit_papers

ROW = {
    "id": "f-1",
    "name": "level_step",
    "target": "global_1",
    "size": 0.9,
    "unit": "degree",
    "action": "level it at once",
}


def put(archive: Path, month: str, *rows: dict[str, object]) -> Path:
    """Findings of a month in an archive."""
    path = findings_path(archive / "tst", month)
    path.parent.mkdir(parents=True, exist_ok=True)
    plain = tuple({"cannot_tell": [], **row} for row in rows)
    write_findings(path, FindingsFile({"period": month}, plain))
    return path


def test_the_newest_month_counts(sound: Path) -> None:
    """Altered files are passed over; accepted findings are no longer open."""
    config = load_station(sound / "station")
    archive = sound / "archive"
    assert open_findings(archive, config) is None
    put(archive, "2031-01", ROW)
    put(archive, "2031-02").write_text("broken\n")
    found = open_findings(archive, config)
    assert found is not None
    assert (found[0], [r["id"] for r in found[1]]) == ("2031-01", ["f-1"])
    assert "level it at once" in station_sheet(sound / "workflow.yaml", "tst")
    accepted = {
        **{"id": "a", "finding": "f-1", "condition": "level_doubtful", "targets": ["global_1"]},
        **{"from": "2031-01-12", "reason": "x", "role": "y", "decided": "2031-02-01"},
    }
    review = {"decisions": [], "accepted_findings": [accepted]}
    (sound / "station" / "review.yaml").write_text(json.dumps(review))
    assert open_findings(archive, load_station(sound / "station")) == ("2031-01", ())


def test_another_archive(sound: Path, tmp_path: Path) -> None:
    put(tmp_path / "other", "2031-01", ROW)
    workflow = sound / "workflow.yaml"
    assert "level it at once" in station_sheet(workflow, "tst", tmp_path / "other")
    assert "level it at once" not in station_sheet(workflow, "tst")


def test_unknown_stations_and_missing_checklists(sound: Path) -> None:
    workflow = sound / "workflow.yaml"
    with pytest.raises(SunledgerError, match="STATION: no such station; allowed: tst"):
        station_form(workflow, "nowhere")
    (sound / "station" / "checklist.yaml").unlink()
    with pytest.raises(ConfigError, match="the station has no checklist"):
        station_sheet(workflow, "tst")


def test_both_kinds_of_form(sound: Path) -> None:
    assert station_form(sound / "workflow.yaml", "tst").startswith("# Visit to Test Fell (tst)")
    assert station_form(sound / "workflow.yaml", "tst", True).startswith("type,where,")


def test_papers_of_every_station(sound: Path, tmp_path: Path) -> None:
    """A station without a checklist is named and gets none."""
    ((name, paths),) = write_visit_papers(sound / "workflow.yaml", tmp_path / "papers")
    assert name == "tst"
    assert [p.name for p in paths] == ["visit_sheet.html", "visit.yaml", "visit.csv"]
    assert all(p.is_file() and p.parent == tmp_path / "papers" / "tst" for p in paths)
    (sound / "station" / "checklist.yaml").unlink()
    assert list(write_visit_papers(sound / "workflow.yaml", tmp_path)) == [("tst", ())]
