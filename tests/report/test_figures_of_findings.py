"""Figures of the evidence, from minute files."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sunledger.diagnosis.findings import NAMES
from sunledger.diagnosis.obstacles import SunPath
from sunledger.report import figures_of_findings as drawn
from sunledger.report.figures_of_findings import (
    DRAWINGS,
    MOST,
    components_of_file,
    evidence_of,
    evidence_pictures,
    sun_path_map,
)

ONSET = int(np.datetime64("2031-04-16T06:00:00", "s").astype(np.int64))


@pytest.fixture(scope="module")
def minutes(sample_folder: Path) -> Path:
    """A month of the sample with clear days and a pyrgeometer."""
    return sample_folder / "build/sample_archive/kpn/minute/kpn_minute_2031-04.nc"


def row(name: str, **more: object) -> dict[str, object]:
    """A line of a findings file."""
    return {"name": name, "target": "ghi", "onset": ONSET, "evidence": {}} | more


def test_the_file_gives_its_place_and_its_middles(minutes: Path) -> None:
    """As the station's file has them; half a minute behind the labels."""
    parts = components_of_file(minutes)
    assert (parts.latitude, parts.longitude, parts.altitude) == (-30.85, 21.98, 1012.0)
    assert parts.middle[0] % 60 == 30.0
    assert np.isfinite(parts.ghi).mean() > 0.5


@pytest.mark.parametrize("name", sorted({f.__name__: n for n, f in DRAWINGS.items()}.values()))
def test_each_drawing_shows_data_and_names_its_axes(minutes: Path, name: str) -> None:
    """One finding a kind of drawing."""
    figure = evidence_of(row(name, evidence={"azimuth_from": 30.0}), minutes)
    assert figure is not None
    axes = figure.axes[0]
    assert axes.get_xlabel()
    assert axes.get_ylabel()
    assert axes.lines or axes.collections


def test_the_wave_before_and_since_the_onset_are_two_lines(minutes: Path) -> None:
    """Without an onset there is one."""
    both = evidence_of(row("level_step"), minutes)
    whole = evidence_of(row("level_step", onset=None), minutes)
    assert both is not None
    assert whole is not None
    labels = [[t.get_text() for t in f.axes[0].get_legend().get_texts()] for f in (both, whole)]
    assert labels == [["before", "since the onset"], ["before"]]


def test_a_growing_loss_shows_its_likely_onset_beside_the_earliest(minutes: Path) -> None:
    """Two days later; other findings by day have one onset."""
    evidence = {"onset_likely": ONSET + 2 * 86400}
    figures = [evidence_of(row("soiling_drift", evidence=e), minutes) for e in (evidence, {})]
    lines = [
        {str(x.get_label()): float(np.ravel(x.get_xdata())[0]) for x in f.axes[0].lines}
        for f in figures
        if f is not None
    ]
    assert lines[0]["likely onset"] - lines[0]["earliest onset"] == pytest.approx(2.0)
    assert lines[1]["onset"] == lines[0]["earliest onset"] == pytest.approx(16.25)
    assert "likely onset" not in lines[1]


def test_every_name_has_a_drawing_but_those_that_need_none() -> None:
    """A new name must be drawn or be put here."""
    assert set(DRAWINGS) == set(NAMES)


def test_the_map_shows_returning_shadows_and_the_profile(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two columns of cells, one of them in shadow up to five degrees on each of 20 days."""
    azimuth, elevation = (a.ravel() for a in np.meshgrid([90.0, 93.0], np.arange(3.0, 13.0)))
    shaded = np.where((azimuth == 90.0) & (elevation < 5.0), 1.0, 0.0)
    days = np.full(azimuth.size, 20)
    path = SunPath(azimuth, elevation, days, shaded, np.zeros(azimuth.size))
    monkeypatch.setattr(drawn, "sun_path", lambda parts: path)
    monkeypatch.setattr(drawn, "components_of_file", lambda path: None)
    axes = sun_path_map(Path("any")).axes[0]
    crosses, profile = axes.lines
    assert list(crosses.get_xdata()) == [91.5, 91.5]
    assert list(profile.get_ydata()) == [5.0]
    empty = SunPath(*(np.zeros(0) for _ in range(2)), np.zeros(0, int), *(np.zeros(0),) * 2)
    monkeypatch.setattr(drawn, "sun_path", lambda parts: empty)
    assert sun_path_map(Path("any")).axes[0].texts[0].get_text() == "no minute tells of shadows"


def test_findings_of_one_drawing_are_drawn_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """And at most so many of a month."""
    monkeypatch.setattr(drawn, "evidence_of", lambda row, path: row["name"])
    rows = [row("level_step"), row("clock_or_east_lean_step"), row("level_step", onset=None)]
    told = list(evidence_pictures(rows, Path("any")))
    assert [figure for figure, _ in told] == ["level_step", "level_step"]
    assert told[0][1] == "Evidence of level step, ghi"
    many = [row("level_step", onset=n) for n in range(MOST + 3)]
    assert len(list(evidence_pictures(many, Path("any")))) == MOST
