"""Pages that are free between others in use go back to the system."""

from __future__ import annotations

import platform
import subprocess
import sys

import pytest

from sunledger.run.memory import give_back

SCRIPT = """
from pathlib import Path
from sunledger.run.memory import give_back

def resident():
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4096 / 2**20

held = [bytearray(b"x" * 100_000) for _ in range(1000)]
held = held[::5]  # the heap's end stays in use, so nothing goes back by itself
before = resident()
given = give_back()
print(given, before - resident() > 50)
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only the GNU C library can")
def test_what_lies_free_between_others_is_given_back() -> None:
    """Counted by the kernel, in a process whose C library never maps such a piece by itself."""
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT],
        capture_output=True,
        text=True,
        check=True,
        env={"MALLOC_MMAP_THRESHOLD_": "1000000", "PYTHONPATH": ":".join(sys.path)},
    )
    assert done.stdout.split() == ["True", "True"]


def test_a_system_without_the_call_is_no_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ctypes.CDLL", lambda _: object())
    assert give_back() is False
