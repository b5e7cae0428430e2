"""Units that do a worker harm, for tests of a cluster: planted in each of its workers."""

from __future__ import annotations

import os
import signal
from pathlib import Path
from typing import Any

import numpy as np
from distributed import WorkerPlugin

from sunledger.run import making
from sunledger.run.publish import Outcome
from sunledger.run.unit import Unit


class Deadly(WorkerPlugin):
    """Makes minutes by what the station is called, and notes each try in a folder."""

    name = "deadly"

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def setup(self, worker: Any) -> None:
        """Plant it, also in a worker that takes the place of a dead one."""
        making.MAKERS["minute"] = lambda _, unit: self.make(unit)

    def make(self, unit: Unit) -> Outcome:
        """Die, raise, or do well."""
        note = self.folder / unit.station
        again = note.exists()
        with note.open("a") as handle:
            handle.write(f"{os.getpid()}\n")
        if unit.station == "always" or (unit.station == "once" and not again):
            os.kill(os.getpid(), signal.SIGKILL)
        if unit.station == "memory":
            np.empty(1 << 58)
        if unit.station == "vanished":
            (self.folder / "nowhere.csv").read_bytes()
        if unit.station == "bug":
            raise ZeroDivisionError("division by zero")
        return Outcome("", "written")
