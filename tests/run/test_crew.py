"""Workers of a run: started once and when asked for; what they cannot do is done here."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from sunledger.run.crew import Crew, default_workers, same


def test_nobody_is_started_unasked() -> None:
    """One worker without a cluster is alone; a run may end that asked for nothing."""
    with Crew(1) as one, Crew(2) as two, Crew(1, "tcp://127.0.0.1:1") as elsewhere:
        assert [crew.alone for crew in (one, two, elsewhere)] == [True, False, False]
    assert same(two) is two


@pytest.mark.parametrize(("cores", "workers"), [(1, 1), (2, 1), (3, 3), (16, 16)])
def test_workers_by_the_number_of_cores(
    cores: int, workers: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of those that this process may use, which a batch system or container may have limited."""
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: set(range(cores)), raising=False)
    assert default_workers() == workers
    monkeypatch.delattr(os, "sched_getaffinity")
    monkeypatch.setattr(os, "cpu_count", lambda: cores)
    assert default_workers() == workers


def test_no_more_workers_than_tasks(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine of many cores starts few for few; never fewer than one."""
    started: list[int] = []

    def local_cluster(workers: int) -> None:
        started.append(workers)
        raise RuntimeError("not here")

    monkeypatch.setattr("sunledger.run.crew.local_cluster", local_cluster)
    for tasks in (3, 0, 99):
        with Crew(64) as crew:
            crew.at_most(tasks)
            with pytest.raises(RuntimeError, match="not here"):
                crew.client()
    assert started == [3, 1, 64]


def touched(folder: Path, name: str) -> int:
    """Leave a file, and say who did; one of the names is nothing for a worker."""
    (folder / name).touch()
    if name == "heavy" and os.getpid() != int((folder / "here").read_text()):
        os._exit(1)
    if name == "wrong":
        raise ValueError("wrong on purpose")
    return os.getpid()


@pytest.mark.slow
def test_each_is_done_by_workers_and_at_last_here(tmp_path: Path) -> None:
    """In order, by the same workers each time; what kills them is done here, and so is an error."""
    (tmp_path / "here").write_text(str(os.getpid()))
    with Crew(2) as crew:
        first = crew.client()
        done = crew.each(touched, tmp_path, ["a", "b", "c", "d"])
        assert os.getpid() not in done
        assert len(set(done)) <= 2
        assert crew.each(touched, tmp_path, []) == []
        assert crew.each(touched, tmp_path, ["heavy"]) == [os.getpid()]
        with pytest.raises(ValueError, match="wrong on purpose"):
            crew.each(touched, tmp_path, ["a", "wrong"])
        assert crew.client() is first
    assert {p.name for p in tmp_path.iterdir()} == {"a", "b", "c", "d", "heavy", "here", "wrong"}


@pytest.mark.slow
def test_workers_that_are_gone_for_good_are_replaced(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """Else the run would wait for ever for somebody to do the rest."""
    monkeypatch.setattr("sunledger.run.crew._LOOK", 0.5)
    with Crew(2) as crew:
        client = crew.client()
        gone = set(client.run(os.getpid).values())
        client.retire_workers(list(client.run(os.getpid)))
        assert client.submit(os.getpid, pure=False).result(timeout=120) not in gone
    assert "are gone; started anew" in caplog.text
