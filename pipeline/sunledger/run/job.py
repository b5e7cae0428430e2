"""A whole job from its workflow file: check, plan, run. The command line only calls this."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from sunledger.archive.atomic import sweep
from sunledger.archive.change_pages import refresh_change_pages
from sunledger.archive.listing import BOOKKEEPING
from sunledger.config.checklists import checklist_faults
from sunledger.config.ledger import check_station
from sunledger.config.loading import LoadedWorkflow, load_workflow
from sunledger.config.models.workflow import MonthRange
from sunledger.errors import ConfigError, Fault
from sunledger.run.context import RunContext, issue_date
from sunledger.run.crew import Crew, default_workers
from sunledger.run.engine import Progress, nothing_more, run_in_process, run_on_cluster
from sunledger.run.file_index import (
    FileIndex,
    load_index,
    save_index,
    unmatched_files,
    update_index,
)
from sunledger.run.judging import judge
from sunledger.run.labels import label_problems, newest_label
from sunledger.run.lock import archive_lock
from sunledger.run.making import stored_outcome
from sunledger.run.months import month_bounds, months_touched
from sunledger.run.plan import Plan, station_plan
from sunledger.run.publish import Outcome
from sunledger.run.rawcheck import format_faults
from sunledger.run.runlog import run_log
from sunledger.run.unit import Unit

Planned = Callable[[tuple[Unit, ...], int], None]

FEW = 8
"""Stale units for which no processes are started: they are made sooner than a cluster stands."""


@dataclass(frozen=True)
class Choice:
    """
    What of a workflow to do.

    Parameters
    ----------
    months : MonthRange or None
        Instead of the workflow's own.
    stations : tuple of str
        Identifiers; empty for all.
    workers : int or None
        Instead of the workflow's own.
    scheduler : str or None
        Address of an existing Dask scheduler.
    archive : Path or None
        Another archive folder, for a trial.
    dry : bool
        Only to plan: nothing is written, not even to the bookkeeping.
    """

    months: MonthRange | None = None
    stations: tuple[str, ...] = ()
    workers: int | None = None
    scheduler: str | None = None
    archive: Path | None = None
    dry: bool = False


@dataclass(frozen=True)
class Job:
    """
    A checked and planned run.

    Parameters
    ----------
    context : RunContext
        Everything but the data.
    plan : Plan
        Units of all stations.
    warnings : tuple of Fault
        What a careful colleague would remark.
    workers : int
        Worker processes.
    scheduler : str or None
        Address of an existing Dask scheduler.
    raw_problems : tuple of str
        Raw files that could not be used as a whole, or that no logger claims.
    """

    context: RunContext
    plan: Plan
    warnings: tuple[Fault, ...]
    workers: int
    scheduler: str | None
    raw_problems: tuple[str, ...] = ()


def check(path: Path) -> tuple[LoadedWorkflow, tuple[Fault, ...]]:
    """
    Check a workflow and all configuration it names; no data file is opened.

    Parameters
    ----------
    path : Path
        Workflow file.

    Returns
    -------
    loaded : LoadedWorkflow
        Everything loaded.
    warnings : tuple of Fault
        Remarks that do not stop a run.

    Raises
    ------
    ConfigError
        With every fault found.
    """
    loaded = load_workflow(path)
    as_of = loaded.workflow.as_of
    faults = [
        fault
        for station in loaded.stations
        for fault in check_station(
            station, loaded.processing.checks, as_of, loaded.processing.calibrate
        )
    ]
    faults += format_faults(loaded.stations)
    # a wrong checklist stops the visit sheet, not the run, which does not read it
    listed = (fault for station in loaded.stations for fault in checklist_faults(station))
    faults += [replace(fault, severity="warning") for fault in listed]
    if any(f.severity == "error" for f in faults):
        raise ConfigError(faults)
    if not loaded.raw.is_dir():
        raise ConfigError([Fault(str(path), 0, "raw", f"no such folder (got {loaded.raw})")])
    return loaded, tuple(faults)


def _indexes(
    loaded: LoadedWorkflow, archive: Path, keep: bool, crew: Crew | None
) -> dict[str, dict[str, FileIndex]]:
    """Index of the raw files by station and logger; only new and changed files are opened."""
    folder = archive / BOOKKEEPING
    out: dict[str, dict[str, FileIndex]] = {}
    for config in loaded.stations:
        for logger in config.station.loggers:
            saved = folder / f"index_{config.station.id}_{logger}.json"
            before = load_index(saved)
            index = update_index(loaded.raw, config.station, logger, before, crew)
            if keep and (before is None or index.files != before.files):
                save_index(saved, index)
            out.setdefault(config.station.id, {})[logger] = index
    return out


def raw_problems(
    loaded: LoadedWorkflow, indexes: dict[str, dict[str, FileIndex]]
) -> tuple[str, ...]:
    """
    Raw files that are not accounted for line by line, each with the reason.

    Parameters
    ----------
    loaded : LoadedWorkflow
        With the raw folder and every station of the workflow.
    indexes : dict
        Station → logger → index.

    Returns
    -------
    problems : tuple of str
        Files that cannot be read as their layout says, that hold no data line, that hold labels
        which cannot be right, or that match no logger's pattern.
    """
    found = [
        problem
        for config in loaded.stations
        for name, index in indexes[config.station.id].items()
        for problem in label_problems(index, config.station, name)
    ]
    for loggers in indexes.values():
        for file in (f for index in loggers.values() for f in index.files):
            if file.problems:
                lines = f"{file.data_lines} data lines rejected"
                found.append(f"{file.path}: {'; '.join(file.problems)} ({lines})")
            elif file.first_label is None:
                found.append(f"{file.path}: no line could be read ({file.data_lines} data lines)")
    strangers = unmatched_files(loaded.raw, [s.station for s in loaded.stations])
    found += [f"{name}: matches no logger of the workflow's stations" for name in strangers]
    return tuple(sorted(found))


def newest_reading(loaded: LoadedWorkflow, indexes: dict[str, dict[str, FileIndex]]) -> int:
    """
    Time of the newest raw reading, which is "now" where the workflow does not say.

    Parameters
    ----------
    loaded : LoadedWorkflow
        With the loggers' zones.
    indexes : dict
        Station → logger → index.

    Returns
    -------
    as_of : int
        0 when there is no reading. Labels that cannot be right do not count. [s]
    """
    newest = [0]
    for config in loaded.stations:
        for name, index in indexes[config.station.id].items():
            label = newest_label(index, config.station)
            if label is not None:
                newest.append(label - config.station.loggers[name].utc_offset)
    return max(newest)


def _wanted_months(months: MonthRange | None) -> list[str] | None:
    if months is None:
        return None
    return months_touched(month_bounds(months.first)[0], month_bounds(months.last)[1])


def _unknown_stations(loaded: LoadedWorkflow, choice: Choice) -> None:
    known = [s.station.id for s in loaded.stations]
    wrong = [s for s in choice.stations if s not in known]
    if wrong:
        raise ConfigError(
            [
                Fault(
                    str(loaded.path),
                    0,
                    "stations",
                    f"no such station; allowed: {', '.join(known)} (got {', '.join(wrong)})",
                )
            ]
        )


def prepare(path: Path, choice: Choice, crew: Crew | None = None) -> Job:
    """
    Check everything and plan the run.

    Parameters
    ----------
    path : Path
        Workflow file.
    choice : Choice
        What of it to do.
    crew : Crew or None
        Whose workers read many new raw files; what is stale is decided here.

    Returns
    -------
    job : Job
        Ready to run.

    Raises
    ------
    ConfigError
        With every fault found.
    """
    loaded, warnings = check(path)
    _unknown_stations(loaded, choice)
    archive = choice.archive or loaded.archive
    indexes = _indexes(loaded, archive, not choice.dry, crew)
    as_of = loaded.workflow.as_of or newest_reading(loaded, indexes)
    context = RunContext(
        network=loaded.network,
        processing=loaded.processing,
        stations=loaded.stations,
        stages=loaded.workflow.stages,
        raw=loaded.raw,
        archive=archive,
        as_of=as_of,
        issued=issue_date(as_of, os.environ.get("SOURCE_DATE_EPOCH")),
    )
    months = _wanted_months(choice.months or loaded.workflow.months)
    plans = [
        station_plan(context, config, indexes[config.station.id], months)
        for config in loaded.stations
        if not choice.stations or config.station.id in choice.stations
    ]
    plan = Plan(
        tuple(unit for p in plans for unit in p.units),
        tuple(e for p in plans for e in p.empty),
        tuple(r for p in plans for r in p.remarks),
        tuple(g for p in plans for g in p.gone),
    )
    workers = choice.workers or loaded.workflow.workers or default_workers()
    problems = raw_problems(loaded, indexes)
    return Job(context, plan, warnings, workers, choice.scheduler, problems)


def execute(
    job: Job,
    progress: Progress,
    crew: Crew | None = None,
    then: Callable[[], None] = nothing_more,
) -> list[Outcome]:
    """
    Make what is stale.

    Parameters
    ----------
    job : Job
        From :func:`prepare`.
    progress : callable
        Told of each outcome, how many are done, and how many there are.
    crew : Crew or None
        Of the run; None for workers of the job's own.
    then : callable
        What is to be done once all minutes are in the archive; called once.

    Returns
    -------
    outcomes : list of Outcome
        One a unit of the plan, fresh ones included.
    """
    context, plan = job.context, job.plan
    with ExitStack() as stack:
        mine = crew or stack.enter_context(Crew(job.workers, job.scheduler))
        fewest = FEW if job.scheduler is None else 2
        if mine.alone or len(plan.stale()) < fewest:
            made = run_in_process(context, plan, progress, then)
        else:
            mine.at_most(len(plan.stale()))
            made = run_on_cluster(context, plan, progress, mine)
            then()
    by_name = {outcome.unit: outcome for outcome in made}
    return [by_name.get(u.name) or stored_outcome(context, u) for u in plan.units]


def run(
    path: Path, choice: Choice, progress: Progress, planned: Planned = nothing_more
) -> tuple[Job, list[Outcome]]:
    """
    Check, plan and run a workflow.

    Parameters
    ----------
    path : Path
        Workflow file.
    choice : Choice
        What of it to do.
    progress : callable
        Told of each outcome.
    planned : callable
        Told of the stale units, and how many are made at a time, before the first is made.

    Returns
    -------
    job : Job
        What was planned.
    outcomes : list of Outcome
        What became of it.
    """
    loaded, _ = check(path)
    archive = choice.archive or loaded.archive
    workers = choice.workers or loaded.workflow.workers or default_workers()
    with archive_lock(archive), _swept(archive), Crew(workers, choice.scheduler) as crew:
        job = prepare(path, choice, crew)
        stale = job.plan.stale()
        planned(stale, job.workers)
        judged: list[Outcome] = []
        fresh = len(job.plan.units) - len(stale)
        about = {"workflow": str(path), "as_of": job.context.as_of, "fresh": fresh}
        if stale:
            sweep(archive)  # of what killed runs left half written
        with run_log(archive, stale, job.workers, about) as log:

            def tell(outcome: Outcome, done: int, total: int) -> None:
                log.unit(outcome)
                progress(outcome, done, total)

            def findings() -> None:
                judged.extend(judge(job.context, job.plan.units, job.plan.gone, crew))

            try:
                outcomes = execute(job, tell, crew, findings)
            finally:
                for station in {unit.station for unit in job.plan.units}:
                    refresh_change_pages(job.context.archive / station)
        return job, outcomes + [o for o in judged if o.done == "failed"]


@contextmanager
def _swept(archive: Path) -> Iterator[None]:
    """Nothing half written stays of a run that ends by an error, once its workers have stopped."""
    try:
        yield
    except BaseException:
        sweep(archive)
        raise
