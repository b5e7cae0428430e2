"""Steps near the turn of a month, which neither month can tell alone: both looked at together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.config.coefficients import Coefficients
from sunledger.diagnosis.closure_fit import Moments
from sunledger.diagnosis.month import NOT_ENOUGH, DiagnosedMonth, SeriesMonth, Told, Verdict
from sunledger.diagnosis.of_record import COMPONENTS, coefficients_at, stretches
from sunledger.diagnosis.step_evidence import StepData, mornings, strongest
from sunledger.diagnosis.step_rows import joined_steps, rows_of_steps, steps_of_rows
from sunledger.diagnosis.steps import concluded, step_from, steps

Array = npt.NDArray[np.float64]
SAME = 1e-3
"""Sensitivities that differ by less are of one certificate. [1]"""
UNCHANGED = ("no change", NOT_ENOUGH)


def steps_within(month: DiagnosedMonth) -> Told:
    """
    Steps within a month, with what the month after it reads of them.

    Parameters
    ----------
    month : DiagnosedMonth
        The month.

    Returns
    -------
    findings, verdict : list of Finding, dict
        Those of :func:`steps`; ``series`` holds the days, from when to when nothing is known to
        have changed, and which instruments stood at either end.
    """
    found, verdict = steps(month)
    since, until = _steady(month, verdict)
    ends = (month.resolved.start, month.resolved.end - 1)
    verdict["series"] = {
        **rows_of_steps(month.step_data),
        "since": since,
        "until": until,
        "ends": [_instruments(coefficients_at(month, at)) for at in ends],
        "columns": [float(v) for v in month.columns.sum(axis=0) / len(month.columns)],
    }
    return found, verdict


def _steady(month: DiagnosedMonth, verdict: Verdict) -> tuple[int | None, int | None]:
    """The last and the first instant at which something is known to have changed."""
    edges = [t for a, b in stretches(month) for t in (a, b)]
    edges += [m.time for m in month.marks if m.moved]
    start, end = month.resolved.start, month.resolved.end
    inside = [t for t in edges if start < t < end]
    if verdict["verdict"] not in UNCHANGED:
        after, before = verdict["between"]
        return max([*inside, before]), min([*inside, after])
    return max(inside, default=None), min(inside, default=None)


def _instruments(rows: Mapping[str, Coefficients]) -> list[list[Any]]:
    return [
        [name, rows[name].position, rows[name].serial_number, rows[name].sensitivity_points[0][1]]
        for name in COMPONENTS
        if name in rows
    ]


def over_turn(month: SeriesMonth, alone: Verdict) -> Told:
    """
    Look for a step between two months, or too near their turn for either alone.

    Parameters
    ----------
    month : SeriesMonth
        The later month.
    alone : dict
        Verdict of :func:`steps_within`.

    Returns
    -------
    findings : list of Finding
        At most one.
    verdict : dict
        The same with ``over_turn``: what the two months say together, or why they are not compared.
    """
    earlier = _month_before(month)
    if earlier is None or "series" not in alone:
        return [], alone
    why = _not_comparable(month, earlier, alone["series"])
    if why:
        return [], alone | {"over_turn": {"verdict": why}}
    before, later = _pieces(earlier, alone["series"])
    if before is None or later is None:
        return [], alone | {"over_turn": {"verdict": NOT_ENOUGH}}
    data = joined_steps(before, later)
    known = {*_judged(earlier), *_judged(alone["series"])}
    moments = data.moments
    pieces = [k for k in mornings(moments) if float(moments.first[k]) not in known]
    evidence = strongest(data, pieces)
    if evidence is None:
        return [], alone | {"over_turn": {"verdict": NOT_ENOUGH}}
    onset = float(moments.first[evidence.piece])
    step = step_from(month, _of_closure(moments), evidence, _behind(month, alone["series"], onset))
    found, told = concluded(month, step)
    return found, alone | {"over_turn": told}


def _month_before(month: SeriesMonth) -> Mapping[str, Any] | None:
    year, number = map(int, month.period.split("-"))
    count = year * 12 + number - 2
    told = month.told_before.get(f"{count // 12:04}-{count % 12 + 1:02}", {})
    series = told.get("steps", {}).get("series")
    return series if isinstance(series, Mapping) else None


def _not_comparable(month: SeriesMonth, earlier: Mapping[str, Any], own: Mapping[str, Any]) -> str:
    """Why the record parts the two months; empty where it does not."""
    first, last = ({row[0]: row[1:] for row in e} for e in (earlier["ends"][1], own["ends"][0]))
    if first.keys() != last.keys() or any(first[n][:2] != last[n][:2] for n in first):
        return "instruments were exchanged between the months"
    if any(abs(first[n][2] / last[n][2] - 1.0) > SAME for n in first):
        return "certificates changed between the months"
    closure = earlier["closure"]
    begin = closure[-1][2] if closure else month.resolved.start
    until = own["closure"][0][1] if own["closure"] else month.resolved.start
    moved = any(m.moved and begin < m.time <= until for m in month.marks)
    return "the global was moved between the months, by the record" if moved else ""


def _pieces(
    earlier: Mapping[str, Any], own: Mapping[str, Any]
) -> tuple[StepData | None, StepData | None]:
    """Days of the earlier month since its last change, of the later one until its first."""
    since = -np.inf if earlier["since"] is None else float(earlier["since"])
    until = np.inf if own["until"] is None else float(own["until"]) + 1.0
    return steps_of_rows(earlier, since, np.inf), steps_of_rows(own, -np.inf, until)


def _judged(series: Mapping[str, Any]) -> list[float]:
    """Mornings that a month could judge by itself, as far as its days tell."""
    data = steps_of_rows(series, -np.inf, np.inf)
    return [] if data is None else [float(data.moments.first[k]) for k in mornings(data.moments)]


def _of_closure(moments: Moments) -> Moments:
    return replace(moments, matrix=moments.matrix[:, :3, :3], vector=moments.vector[:, :3])


def _behind(month: SeriesMonth, series: Mapping[str, Any], onset: float) -> tuple[Array, float]:
    """Regressors and share of the month behind the onset, as if all its days were alike."""
    start, end = month.span
    share = float(np.clip((end - onset) / max(end - start, 1.0), 0.0, 1.0))
    return share * np.array(series["columns"]), share
