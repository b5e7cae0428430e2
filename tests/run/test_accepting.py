"""Accepting findings: an entry with comments kept, and doubt in the next run."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import small_project
from sunledger.archive.findings_file import FindingsFile, findings_path, write_findings
from sunledger.archive.verify import verify
from sunledger.config.loading import load_model
from sunledger.config.models.review import Review
from sunledger.diagnosis.findings import Finding, plain_row
from sunledger.errors import SunledgerError
from sunledger.run.accepting import CONDITIONS_OF, Decided, accept
from sunledger.run.job import Choice, run
from sunledger.vocabulary import CONDITIONS

ONSET = int(np.datetime64("2031-06-30T12:00:00", "s").astype(np.int64))
DECIDED = Decided("data manager", "2031-10-01", "seen on site")


def put_finding(
    workflow: Path,
    name: str = "level_step",
    onset: int | None = ONSET,
    size: tuple[float, str, float, float] = (0.9, "degree", 0.7, 1.1),
    **evidence: int,
) -> str:
    """A finding in the archive, as a run would have left it; its identifier."""
    words = ("tst", "2031-06", name, "global_1")
    found = Finding(*words, *size, action="level it", onset=onset, evidence=evidence)
    path = findings_path(workflow.parent / "archive" / "tst", "2031-06")
    write_findings(path, FindingsFile({"period": "2031-06"}, (plain_row(found),)))
    return found.id


def doubt(workflow: Path, month: str, condition: str) -> np.ndarray:
    """Times of the minutes of global with a condition. [s]"""
    path = workflow.parent / "archive" / "tst" / "minute" / f"tst_minute_{month}.nc"
    with xr.open_dataset(path) as ds:
        marked = (ds["ghi_conditions"].values & CONDITIONS[condition].mask) != 0
        return ds["time"].values[marked].astype("M8[s]").astype(np.int64)


def test_an_accepted_lean_makes_level_doubtful_from_its_onset(project: Path) -> None:
    """Comments stay; the rerun conditions June from the onset and July whole; the archive is sound.

    Accepted twice, it is refused.
    """
    review = project.parent / "station" / "review.yaml"
    review.write_text("# kept\ndecisions: []  # none yet\n")
    run(project, Choice(), lambda *_: None)
    finding = put_finding(project)
    assert accept(project, finding, DECIDED) == review
    assert review.read_text().startswith("# kept\ndecisions: []  # none yet\naccepted_findings:\n")
    (entry,) = load_model(review, Review).accepted_findings
    assert (entry.finding, entry.time, entry.targets) == (finding, ONSET, ("global_1",))
    _, outcomes = run(project, Choice(), lambda *_: None)
    assert not [o.error for o in outcomes if o.done == "failed"]
    june = doubt(project, "2031-06", "level_doubtful")
    assert june.min() == ONSET
    assert june.size == 12 * 60
    assert doubt(project, "2031-07", "level_doubtful").size > 0
    assert verify(project.parent / "archive") == ()
    put_finding(project)
    with pytest.raises(SunledgerError, match="accepted already"):
        accept(project, finding, DECIDED)


def test_doubt_of_a_clock_bears_on_the_logger(project: Path) -> None:
    """The one that reads the position; the next clock check ends it."""
    (project.parent / "station" / "review.yaml").write_text("decisions: []\n")
    finding = put_finding(project, "clock_or_east_lean_step")
    small_project.note(project, small_project.clock("ck-2", "main", "2031-06-30 18:00", 0))
    accept(project, finding, Decided("data manager", "2031-10-01", "r", "clock_doubtful"))
    run(project, Choice(), lambda *_: None)
    marked = doubt(project, "2031-06", "clock_doubtful")
    assert (marked.min(), marked.max()) == (ONSET, ONSET + 6 * 3600 - 60)


def test_accepted_dirt_widens_the_uncertainty_until_the_cleaning(project: Path) -> None:
    """By the far end of the loss's interval, rectangular, in those minutes; a new version."""
    path = project.parent / "archive" / "tst" / "minute" / "tst_minute_2031-06.nc"
    with xr.open_dataset(path) as ds:
        before = ds.load()
    (project.parent / "station" / "review.yaml").write_text("decisions: []\n")
    finding = put_finding(project, "soiling_drift", size=(-3.0, "%", -4.0, -2.0))
    small_project.note(project, small_project.cleaning("cl-9", "2031-06-30 15:00"))
    accept(project, finding, DECIDED)
    _, outcomes = run(project, Choice(), lambda *_: None)
    assert not [o.error for o in outcomes if o.done == "failed"]
    with xr.open_dataset(path) as ds:
        after = ds.load()
    old, new = (x["ghi_uncertainty"].values.astype(float) for x in (before, after))
    # values are archived to 2**-7 W m-2
    added = np.sqrt(np.maximum(new**2 - old**2, 0.0))
    time = after["time"].values.astype("M8[s]").astype(np.int64)
    soiled = (time >= ONSET) & (time < ONSET + 3 * 3600)
    bright = after["ghi"].values > 100.0
    assert (soiled & bright).sum() > 100
    expected = 2 * 0.04 * after["ghi"].values / np.sqrt(3)
    np.testing.assert_allclose(added[soiled & bright], expected[soiled & bright], atol=0.05)
    np.testing.assert_array_equal(new[~soiled], old[~soiled])
    np.testing.assert_array_equal(after["ghi"].values, before["ghi"].values)
    assert before.attrs["product_version"] == "1"
    assert after.attrs["product_version"] == "2"
    for other in ("dhi_uncertainty", "dni_uncertainty"):
        np.testing.assert_array_equal(after[other].values, before[other].values)
    assert doubt(project, "2031-06", "soiling_recorded").size == 180


def test_dirt_that_a_cleaning_ended_is_accepted_for_the_time_before_it(project: Path) -> None:
    """From the cleaning before to the one that showed it, by the far end of the interval."""
    (project.parent / "station" / "review.yaml").write_text("decisions: []\n")
    told = {"since": ONSET, "cleaned": ONSET + 7200}
    finding = put_finding(project, "cleaning_step", ONSET + 9000, (2.0, "%", 1.2, 2.8), **told)
    accept(project, finding, DECIDED)
    (entry,) = load_model(project.parent / "station" / "review.yaml", Review).accepted_findings
    assert (entry.condition, entry.targets) == ("soiling_recorded", ("global_1",))
    assert (entry.time, entry.until, entry.bound) == (ONSET, ONSET + 7200, 2.8)
    _, outcomes = run(project, Choice(), lambda *_: None)
    assert not [o.error for o in outcomes if o.done == "failed"]
    marked = doubt(project, "2031-06", "soiling_recorded")
    assert (marked.min(), marked.max()) == (ONSET, ONSET + 7200 - 60)


def test_what_may_be_either_has_to_be_said(made: Path, tmp_path: Path) -> None:
    """An east-west step is clock or lean: the person says which."""
    workflow = small_project.copy_of(made, tmp_path / "p")
    finding = put_finding(workflow, "clock_or_east_lean_step")
    both = ", ".join(CONDITIONS_OF["clock_or_east_lean_step"])
    with pytest.raises(SunledgerError, match=rf"allowed: {both} \(got nothing\)"):
        accept(workflow, finding, DECIDED)


def test_gross_errors_are_put_right_in_the_configuration(made: Path, tmp_path: Path) -> None:
    """They are no doubt of a time: refused, with what to do instead."""
    workflow = small_project.copy_of(made, tmp_path / "p")
    finding = put_finding(workflow, "time_zone_error", None)
    with pytest.raises(SunledgerError, match="put right what it names instead: level it"):
        accept(workflow, finding, DECIDED)


def test_an_unknown_finding_is_named_with_those_there_are(made: Path, tmp_path: Path) -> None:
    """Nothing is written."""
    workflow = small_project.copy_of(made, tmp_path / "p")
    finding = put_finding(workflow)
    before = (workflow.parent / "station" / "review.yaml").read_bytes()
    with pytest.raises(SunledgerError, match=f"ghost: no such finding; allowed: .*{finding}"):
        accept(workflow, "ghost", DECIDED)
    assert (workflow.parent / "station" / "review.yaml").read_bytes() == before
