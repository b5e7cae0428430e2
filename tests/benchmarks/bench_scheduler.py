"""
Prints what the scheduler costs a unit at 12,000 simulated units, and how fast a plan is fresh.

Run with `python tests/benchmarks/bench_scheduler.py`; `--units N`. Asked for: below 2 ms a unit,
and below 3 s for 240 fresh station-months. Units are simulated: workers call a function that
returns at once, so that what is left is the cost of submitting, ordering and gathering.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from distributed import Client, WorkerPlugin

REPOSITORY = Path(__file__).resolve().parents[2]
# A script as well: the helpers lie among the tests.
sys.path[:0] = [str(REPOSITORY / "pipeline"), str(REPOSITORY / "tests")]

import pretended  # noqa: E402
import small_project  # noqa: E402
from sunledger.run import engine, making  # noqa: E402
from sunledger.run.crew import Crew, local_cluster  # noqa: E402
from sunledger.run.job import Choice, prepare  # noqa: E402
from sunledger.run.plan import Plan  # noqa: E402
from sunledger.run.publish import Outcome  # noqa: E402
from sunledger.run.unit import Unit  # noqa: E402


class Simulated(WorkerPlugin):
    """Minutes that take no time."""

    name = "simulated"

    def setup(self, worker: Any) -> None:
        """Plant it in a worker."""
        making.MAKERS["minute"] = lambda *_: Outcome("", "written")
        engine.prepare_numbers = lambda *_: None


def units(number: int) -> tuple[Unit, ...]:
    """Minutes of fifty stations, none of which reads another."""
    return tuple(Unit("minute", f"s{n % 50}", "minute", str(n), "", {}) for n in range(number))


def main() -> None:
    """Print both figures."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").strip().splitlines()[0])
    parser.add_argument("--units", type=int, default=12_000)
    asked = parser.parse_args()
    with local_cluster(2) as cluster, Crew(2, cluster.scheduler_address) as crew:
        with Client(cluster) as client:
            client.register_plugin(Simulated())
        wall, cpu = time.perf_counter(), time.process_time()
        made = engine.run_on_cluster(
            None,  # type: ignore[arg-type]
            Plan(units(asked.units)),
            lambda *_: None,
            crew,
        )
        wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    assert {o.done for o in made} == {"written"}
    print(
        f"{asked.units} units: {wall / asked.units * 1e3:.2f} ms a unit wall,"
        f" {cpu / asked.units * 1e3:.2f} ms processor of the scheduler",
        flush=True,
    )
    with tempfile.TemporaryDirectory() as name:
        months = [f"{year}-{month:02}" for year in range(2031, 2051) for month in range(1, 13)]
        days = [f"{month}-15" for month in months]
        workflow = small_project.write_project(
            Path(name) / "p", days, minutes=30, as_of="2051-02-01"
        )
        pretended.pretend(workflow)
        wall, cpu = time.perf_counter(), time.process_time()
        plan = prepare(workflow, Choice()).plan
        wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
        assert plan.stale() == ()
        print(f"{len(plan.units)} fresh units of 240 station-months: {wall:.2f} s, {cpu:.2f} s cpu")


if __name__ == "__main__":
    main()
