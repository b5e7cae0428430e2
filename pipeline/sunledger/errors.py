"""Exceptions that a person can act on: each prints `file:line: field: what is wrong`."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, order=True)
class Fault:
    """
    One thing that is wrong at one place of one file.

    Parameters
    ----------
    path : str
        File the fault is in.
    line : int
        Line number, counted from 1; 0 when the fault concerns the whole file.
    field : str
        Dotted name of the entry, such as ``loggers.main.interval``.
    why : str
        What is wrong, what is allowed, and what was found.
    severity : str
        ``error`` stops the run; ``warning`` is printed and the run goes on.
    """

    path: str
    line: int
    field: str
    why: str
    severity: str = "error"

    def __str__(self) -> str:
        place = f"{self.path}:{self.line}" if self.line else self.path
        mark = "" if self.severity == "error" else f"{self.severity}: "
        return (
            f"{place}: {mark}{self.field}: {self.why}"
            if self.field
            else f"{place}: {mark}{self.why}"
        )


class SunledgerError(Exception):
    """Base of every expected error; the command line prints it in one line, without traceback."""


class ConfigError(SunledgerError):
    """
    All faults found in the configuration, raised at once before any data is opened.

    Parameters
    ----------
    faults : list of Fault
        Every fault found, of any severity.
    """

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__(faults)  # the same arguments as the signature, so that it unpickles
        self.faults = faults

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in sorted(self.faults))


class RawFileError(SunledgerError):
    """
    A raw file that cannot be read as its layout says.

    Parameters
    ----------
    path : str or Path
        The raw file.
    line : int
        Line number, counted from 1; 0 for the whole file.
    why : str
        What was expected and what was found.
    """

    def __init__(self, path: str | Path, line: int, why: str) -> None:
        super().__init__(path, line, why)
        self.path, self.line, self.why = path, line, why

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.why}" if self.line else f"{self.path}: {self.why}"


class BudgetError(SunledgerError):
    """A budget that cannot be told: no such quantity, instrument, or condition."""


class ArchiveError(SunledgerError):
    """A file of the archive that is missing, foreign, altered, or cannot be written."""


class CampaignError(SunledgerError):
    """A comparison that yields no certificate: too few series or days, or too much scatter."""
