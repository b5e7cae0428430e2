"""An archive of which only the manifests are real, so that plans over many months cost nothing."""

from __future__ import annotations

from pathlib import Path

from sunledger.archive.digest import plain_data
from sunledger.archive.manifest import InputFile, Manifest, write_manifest
from sunledger.run.context import RunContext
from sunledger.run.job import Choice, Job, prepare
from sunledger.run.publish import Outcome
from sunledger.run.unit import Unit

MONTHS = tuple(f"2031-{m:02}" for m in range(1, 11))
"""January to October 2031, of which the long project holds two hours each."""


def pretend_unit(context: RunContext, unit: Unit, before: tuple[Outcome, ...] = ()) -> Outcome:
    """Leave an empty file with the manifest that making the unit would leave."""
    path = context.product_path(unit.station, unit.product, unit.period, unit.logger)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.touch()
    manifest = Manifest(
        unit.product,
        unit.station,
        unit.period,
        unit.key,
        tuple(InputFile(*source) for source in unit.sources),
        plain_data(unit.settings),
    )
    write_manifest(path, manifest)
    return Outcome(unit.name, "written", str(path), 1, "provisional")


def pretend(workflow: Path, choice: Choice | None = None) -> Job:
    """Pretend to run a workflow."""
    job = prepare(workflow, choice or Choice())
    for unit in job.plan.stale():
        pretend_unit(job.context, unit)
    return job


def stale(workflow: Path, choice: Choice | None = None) -> dict[str, tuple[str, ...]]:
    """What a run would make now, and why; names without the station."""
    job = prepare(workflow, choice or Choice())
    return {u.name.partition(" ")[2]: u.reasons for u in job.plan.stale()}


def months(units: dict[str, tuple[str, ...]], product: str) -> list[str]:
    """Months of a product among the stale units."""
    return [name.split()[-1] for name in units if name.startswith(product)]
