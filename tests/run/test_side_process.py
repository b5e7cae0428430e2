"""A copy of a process: what goes there and comes back, and what becomes of it when either ends.

Each script runs in an interpreter of its own, since that of the tests has threads. What may be
handed over is checked against the pickle protocol itself (PEP 574, buffers out of band).
"""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest

from sunledger.run.side_process import can_be_copied

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="forks where that is safe")

HEAD = """
import os, pickle, sys, time
import numpy as np
from sunledger.run.side_process import SideProcess, SideProcessError, can_be_copied
assert can_be_copied()
"""
GIVEN = {
    "floats": np.linspace(0, 1, 100_001, dtype=np.float32),
    "missing": np.array([np.nan, -0.0, np.inf]),
    "every second": np.arange(10)[::2],
    "table": np.arange(12, dtype=np.int16).reshape(3, 4).T,
    "none": np.zeros((0, 3)),
    "one": np.array(7),
    "words": np.array(["a", "größer", ""]),
    "objects": np.array([1, "b"], object),
    "bytes": b"x" * (3 << 20),
    "nested": [{"again": (np.ones(3, bool), None)}],
}


def ended(script: str, *words: object) -> subprocess.CompletedProcess[str]:
    """A script in an interpreter of its own, when it has ended."""
    return subprocess.run(
        [sys.executable, "-c", HEAD + script, *map(str, words)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


def flat(value: object) -> list[object]:
    """What there is, with types and bits."""
    if isinstance(value, np.ndarray):
        bits = value.tolist() if value.dtype == object else value.tobytes()
        return [value.dtype.str, value.shape, bits]
    if isinstance(value, dict | list | tuple):
        inner = value.items() if isinstance(value, dict) else value
        return [type(value), *(flat(v) for v in inner)]
    return [value]


def test_what_is_given_arrives_and_comes_back(tmp_path: Path) -> None:
    """As the pickle protocol would carry it, whatever its kind, and more than once."""
    (tmp_path / "given").write_bytes(pickle.dumps(GIVEN))
    script = """
given = pickle.load(open(sys.argv[1], "rb"))
side = SideProcess(lambda x: (os.getpid(), x))
back = [side.ask(given) for _ in range(3)]
side.close()
pickle.dump((os.getpid(), back), open(sys.argv[2], "wb"))
"""
    done = ended(script, tmp_path / "given", tmp_path / "back")
    assert done.returncode == 0, done.stderr
    mine, back = pickle.loads((tmp_path / "back").read_bytes())
    assert len({pid for pid, _ in back} | {mine}) == 2
    for _, found in back:
        assert flat(found) == flat(GIVEN)


def test_arrays_there_are_its_own() -> None:
    """It may write into them, which nobody here sees; all of them begin at even places."""
    script = """
def spoil(arrays):
    for array in arrays:
        assert array.ctypes.data % 8 == 0
        array += 1
    return arrays[0][:3].copy()
given = [np.zeros(1001), np.zeros(3, np.int8), np.zeros(1000, np.float32)]
side = SideProcess(spoil)
print(side.ask(given).tolist(), side.ask(given).tolist(), sum(a.sum() for a in given))
side.close()
"""
    assert ended(script).stdout == "[1.0, 1.0, 1.0] [1.0, 1.0, 1.0] 0.0\n"


def test_what_was_handed_over_is_let_go() -> None:
    """No handle stays open on either side, and no memory: 80 times 20 MB are handed over."""
    script = """
def resident(_):
    return len(os.listdir("/proc/self/fd")), int(open("/proc/self/statm").read().split()[1]) >> 8
given = np.zeros(20 << 17)
side = SideProcess(resident)
before = side.ask(given), resident(0)
for _ in range(80):
    after = side.ask(given), resident(0)
for (handles, size), (handles_after, size_after) in zip(before, after):
    assert handles == handles_after, (handles, handles_after)
    assert size_after < size + 30, (size, size_after)
side.close()
"""
    assert ended(script).stderr == ""


@pytest.mark.parametrize(
    "function",
    ["lambda x: 1 / x", "lambda x: os.kill(os.getpid(), 9)", "lambda x: (lambda: x)"],
    ids=["raises", "is killed", "cannot be told"],
)
def test_a_copy_that_ends_is_told(function: str) -> None:
    """Whatever it dies of: the one who asked hears of it, and again when asking once more."""
    script = f"""
side = SideProcess({function})
for _ in range(2):
    try:
        side.ask(0)
    except SideProcessError as error:
        print("gone:", error)
side.close()
"""
    done = ended(script)
    assert done.stdout.count("gone: ") == 2
    assert done.stderr == ""


def test_it_ends_with_the_one_that_was_copied() -> None:
    """Also when that is killed in the middle of asking."""
    script = """
import threading
def slow(_):
    time.sleep(60)
side = SideProcess(slow)
print(side._process, flush=True)
threading.Timer(0.3, lambda: os.kill(os.getpid(), 9)).start()
side.ask(0)
"""
    done = ended(script)
    assert done.returncode == -signal.SIGKILL
    deadline = time.monotonic() + 20
    while _lives(int(done.stdout)):
        assert time.monotonic() < deadline
        time.sleep(0.05)


def _lives(process: int) -> bool:
    try:
        state = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False
    return state != "Z"


def test_it_is_closed_where_nobody_is_told_how_others_end() -> None:
    """A parent may have chosen so, and it holds here: then waitpid(2) fails, by POSIX."""
    script = """
import signal
signal.signal(signal.SIGCHLD, signal.SIG_IGN)
side = SideProcess(lambda x: x + 1)
print(side.ask(1))
side.close()
"""
    done = ended(script)
    assert (done.stdout, done.stderr) == ("2\n", "")


def test_a_system_that_refuses_is_told() -> None:
    """As fork(2) does where too many processes run; no handle stays, requests get through."""
    script = """
import signal
def refused():
    raise BlockingIOError(11, "too many processes")
os.fork = refused
before = os.listdir("/proc/self/fd"), signal.pthread_sigmask(signal.SIG_BLOCK, ())
try:
    SideProcess(abs)
except SideProcessError as error:
    print(error)
assert before == (os.listdir("/proc/self/fd"), signal.pthread_sigmask(signal.SIG_BLOCK, ()))
"""
    done = ended(script)
    assert (done.stdout, done.stderr) == ("[Errno 11] too many processes\n", "")


@pytest.mark.parametrize("word", ["SIGINT", "SIGTERM"])
def test_a_request_to_end_is_for_the_one_that_was_copied(word: str) -> None:
    """A terminal or batch system sends it to all; the copy finishes what it was given."""
    script = f"""
import signal
def slow(x):
    time.sleep(0.5)
    return x + 1
side = SideProcess(slow)
signal.signal(signal.{word}, lambda *_: print("asked to end"))
os.kill(side._process, signal.{word})
os.kill(os.getpid(), signal.{word})
print(side.ask(1))
side.close()
"""
    assert ended(script).stdout == "asked to end\n2\n"


def test_a_process_with_threads_is_not_copied() -> None:
    over = threading.Event()
    thread = threading.Thread(target=over.wait)
    thread.start()
    try:
        assert not can_be_copied()
    finally:
        over.set()
        thread.join()
