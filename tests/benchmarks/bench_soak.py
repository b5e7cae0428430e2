"""
Kills a run at random moments by SIGKILL, runs again, and compares the archive byte for byte.

Run with `python tests/benchmarks/bench_soak.py`; `--kills N` (default 200), `--cluster N` of them
with two worker processes (default 20), `--seed N`. Half of the runs make an archive from nothing,
half make new versions in one that exists. A run may be killed several times before it is left to
end. Prints how many kills came in time, where, and whether every archive is the one of a run that
nobody killed.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parents[2]
# A script as well: the helpers lie among the tests.
sys.path[:0] = [str(REPOSITORY / "pipeline"), str(REPOSITORY / "tests")]

import small_project  # noqa: E402
from sunledger.archive.verify import verify  # noqa: E402
from sunledger.run.job import Choice, run  # noqa: E402

DAYS = ("2031-06-29", "2031-07-01")
MINUTES = 30
MODULES = "modules.txt"
AGAIN = 0.3
"""Share of the kills after which the next run is killed too."""


def content(archive: Path) -> dict[str, bytes]:
    """Every file but the bookkeeping; the change record by its lines, in any order."""
    files = (p for p in archive.rglob("*") if p.is_file() and ".sunledger" not in p.parts)
    found = {str(p.relative_to(archive)): p.read_bytes() for p in files}
    for name in found:
        if name.endswith("changes.jsonl"):
            found[name] = b"".join(sorted(found[name].splitlines(keepends=True)))
    return found


def started(workflow: Path, workers: int) -> int:
    """Process of a run that has read the configuration or is about to; its group is its own."""
    if workers > 1:
        words = [sys.executable, "-m", "sunledger.cli", "run", str(workflow), "--workers", "2"]
        environment = {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
        quiet = subprocess.DEVNULL
        return subprocess.Popen(
            words, env=environment, stdout=quiet, stderr=quiet, start_new_session=True
        ).pid
    child = os.fork()
    if child:
        return child
    try:  # everything is imported already: a kill falls into work, not into imports
        _, outcomes = run(workflow, Choice(workers=1), lambda *_: None)
        (workflow.parent / MODULES).write_text("\n".join(sys.modules))
        os._exit(0 if all(o.done != "failed" for o in outcomes) else 1)
    finally:
        os._exit(70)


def ended(child: int) -> bool:
    """Whether it ended by itself; a run that fails is the end of this script."""
    done, status = os.waitpid(child, os.WNOHANG)
    if done and not os.WIFSIGNALED(status) and os.waitstatus_to_exitcode(status):
        raise SystemExit(f"a run ended with {os.waitstatus_to_exitcode(status)}")
    return bool(done)


def killed(workflow: Path, workers: int, moment: float) -> bool:
    """Start a run and kill it after a time; whether it was still at work."""
    child, begin = started(workflow, workers), time.perf_counter()
    while time.perf_counter() - begin < moment:
        if ended(child):
            return False
        time.sleep(0.002)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status)


def completed(workflow: Path, workers: int) -> float:
    """Run to the end; seconds it took."""
    child, begin = started(workflow, workers), time.perf_counter()
    while not ended(child):
        time.sleep(0.005)
    return time.perf_counter() - begin


def state(archive: Path) -> str:
    """What a kill left, in a word."""
    if list(archive.rglob("*.partial")):
        return "with a partial file"
    pages = len(list(archive.rglob("*.nc"))), len(list(archive.rglob("*.nc.json")))
    if pages[0] != pages[1]:
        return "between a file and its manifest"
    return "with some files" if pages[0] else "with none"


def noted(workflow: Path) -> None:
    """A change of the record that revises all minutes of both months."""
    level = small_project.level("lc-bad", "2031-08-20", 1.0)
    small_project.note(workflow, level)


def beginnings(folder: Path) -> dict[str, tuple[Path, dict[str, bytes], float]]:
    """Projects to start from, what their archives must become, and how long a run takes."""
    fresh = small_project.write_project(folder / "fresh", DAYS, minutes=MINUTES)
    made = small_project.copy_of(fresh, folder / "made")
    first = completed(made, 1)
    wanted = content(made.parent / "archive")
    # what a run imports on its way, so that later runs start at once: kills fall into their work
    for name in (made.parent / MODULES).read_text().split():
        with contextlib.suppress(Exception):
            importlib.import_module(name)
    assert verify(made.parent / "archive") == ()
    revised = small_project.copy_of(made, folder / "revised")
    noted(revised)
    whole = small_project.copy_of(revised, folder / "whole")
    again = completed(whole, 1)
    assert verify(whole.parent / "archive") == ()
    return {
        "from nothing": (fresh, wanted, first),
        "new versions": (revised, content(whole.parent / "archive"), again),
    }


def main() -> None:
    """Print the figures; exit code 1 where an archive differs."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").strip().splitlines()[0])
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--cluster", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    moments, kills, archives = random.Random(asked.seed), Counter[str](), 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for which, (start, wanted, seconds) in beginnings(folder).items():
            goal = kills.total() + asked.kills // 2
            cluster = goal - asked.cluster // 2
            while kills.total() < goal:
                workers = 2 if kills.total() >= cluster else 1
                longest = seconds if workers == 1 else 3 * seconds + 10
                trial = small_project.copy_of(start, folder / "trial")
                while killed(trial, workers, moments.uniform(0, longest)):
                    kills[f"{which}, {workers} worker(s), {state(trial.parent / 'archive')}"] += 1
                    if moments.random() > AGAIN:
                        break
                took = completed(trial, workers)
                seconds = took if workers == 1 else seconds
                archive, archives = trial.parent / "archive", archives + 1
                if content(archive) != wanted:  # which were verified
                    raise SystemExit(f"an archive differs: {which}, after {kills.total()} kills")
                shutil.rmtree(trial.parent)
                if archives % 10 == 0:
                    print(f"{kills.total()} kills, {archives} archives so far", flush=True)
    for where, number in sorted(kills.items()):
        print(f"{number} kills: {where}")
    print(f"{kills.total()} kills, {archives} archives, all byte for byte as without a kill")


if __name__ == "__main__":
    main()
