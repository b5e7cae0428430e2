"""What every check of the ledger reads: the record put together, and where its entries stand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TypeVar

from sunledger.config.loading import StationConfig
from sunledger.config.models.base import FAR_FUTURE
from sunledger.config.models.checks import CheckSettings
from sunledger.config.models.fieldlog import Entry
from sunledger.config.models.instruments import RADIOMETER_KINDS, Instrument
from sunledger.config.models.processing import CalibrateSettings
from sunledger.config.record import DeploymentPeriod, deployment_periods

DAY = 86400
RADIOMETERS = frozenset(kind for kinds in RADIOMETER_KINDS.values() for kind in kinds)
EntryOfKind = TypeVar("EntryOfKind")


@dataclass(frozen=True)
class Finding:
    """
    What a check found; its rule gives it its severity.

    Parameters
    ----------
    path : str
        File.
    line : int
        Line, counted from 1.
    field : str
        Dotted name of the entry.
    why : str
        What is wrong.
    """

    path: str
    line: int
    field: str
    why: str


@dataclass(frozen=True)
class LedgerView:
    """
    A station's record as the checks see it.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    settings : CheckSettings
        When to warn.
    as_of : int or None
        The run's "now". [s]
    entries : tuple of Entry
        Entries in force, in the order written.
    periods : tuple of DeploymentPeriod
        Deployments in force.
    instruments : dict of Instrument
        By serial number.
    positions : dict of str
        Radiometer position → quantity.
    choice : CalibrateSettings
        How certificates are chosen and used.
    """

    config: StationConfig
    settings: CheckSettings
    as_of: int | None
    entries: tuple[Entry, ...]
    periods: tuple[DeploymentPeriod, ...]
    instruments: dict[str, Instrument]
    positions: dict[str, str]
    choice: CalibrateSettings

    def of_kind(self, kind: type[EntryOfKind]) -> Iterator[EntryOfKind]:
        """
        Entries in force of one model.

        Parameters
        ----------
        kind : type
            Such as ``LevelCheck``.

        Yields
        ------
        entry : object
            In the order written.
        """
        yield from (entry for entry in self.entries if isinstance(entry, kind))

    def radiometer_periods(self) -> Iterator[tuple[DeploymentPeriod, Instrument]]:
        """
        Deployments of known radiometers, with the instrument.

        Yields
        ------
        period, instrument : DeploymentPeriod, Instrument
            By start.
        """
        for period in self.periods:
            instrument = self.instruments.get(period.entry.instrument)
            if instrument is not None and instrument.kind in RADIOMETERS:
                yield period, instrument

    def last_instant(self, period: DeploymentPeriod) -> int | None:
        """
        End of a deployment, or the run's "now" while it lasts.

        Parameters
        ----------
        period : DeploymentPeriod
            The deployment.

        Returns
        -------
        time : int or None
            None when neither is known. [s]
        """
        known = [t for t in (period.end, self.as_of) if t is not None]
        return min(known, default=None)

    def at_entry(self, entry: Entry, field: str, why: str) -> Finding:
        """
        Something found at an entry of the field log.

        Parameters
        ----------
        entry : Entry
            The entry.
        field : str
            Its field.
        why : str
            What is wrong.

        Returns
        -------
        finding : Finding
            With the field's line.
        """
        index = next(i for i, e in enumerate(self.config.fieldlog.entries) if e.id == entry.id)
        path, line = self.config.place("fieldlog", "entries", index, field)
        return Finding(path, line, f"entries[{index}] ({entry.id}).{field}", why)

    def named(self, entry: Entry) -> str:
        """
        Name another entry with the place where it stands.

        Parameters
        ----------
        entry : Entry
            An entry of the field log.

        Returns
        -------
        name : str
            Such as ``osr-0042 (configs/stations/osr/fieldlog.yaml:12)``.
        """
        path, line = self.config.entry_place(entry.id)
        return f"{entry.id} ({path}:{line})"

    def at_instrument(
        self, serial: str, why: str, certificate: int | None = None, field: str = ""
    ) -> Finding:
        """
        Something found at an instrument of the inventory or at one of its certificates.

        Parameters
        ----------
        serial : str
            Serial number.
        why : str
            What is wrong.
        certificate : int or None
            Index of the certificate.
        field : str
            Dotted name of a field of the certificate or instrument.

        Returns
        -------
        finding : Finding
            With the field's line.
        """
        instruments = self.config.inventory.instruments
        index = next(i for i, item in enumerate(instruments) if item.serial_number == serial)
        loc: tuple[str | int, ...] = ("instruments", index)
        name = f"instruments[{index}] ({serial})"
        if certificate is not None:
            number = instruments[index].calibrations[certificate].certificate
            loc = (*loc, "calibrations", certificate)
            name += f".calibrations[{certificate}] ({number})"
        steps = field.split(".") if field else []
        path, line = self.config.place("inventory", *loc, *steps)
        return Finding(path, line, ".".join([name, *steps]), why)

    def at_station(self, why: str, *loc: str | int) -> Finding:
        """
        Something found in `station.yaml`.

        Parameters
        ----------
        why : str
            What is wrong.
        *loc : str or int
            Keys and list indices from the root.

        Returns
        -------
        finding : Finding
            With the entry's line.
        """
        path, line = self.config.place("station", *loc)
        steps = (f"[{s}]" if isinstance(s, int) else f".{s}" for s in loc)
        return Finding(path, line, "".join(steps).removeprefix("."), why)


def ledger_view(
    config: StationConfig,
    settings: CheckSettings,
    as_of: int | None,
    choice: CalibrateSettings | None = None,
) -> LedgerView:
    """
    Put a station's record together for the checks.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    settings : CheckSettings
        When to warn.
    as_of : int or None
        The run's "now". [s]
    choice : CalibrateSettings or None
        How certificates are chosen and used; None for the defaults.

    Returns
    -------
    view : LedgerView
        Input of every check.
    """
    return LedgerView(
        config=config,
        settings=settings,
        as_of=as_of,
        entries=config.fieldlog.in_force(),
        periods=deployment_periods(config.fieldlog),
        instruments=config.inventory.by_serial(),
        positions=config.station.positions(),
        choice=choice or CalibrateSettings(),
    )


def written_time(unix_time: float) -> str:
    """
    Write a time as people write it in the field log.

    Parameters
    ----------
    unix_time : float
        Seconds since 1970-01-01 UTC.

    Returns
    -------
    text : str
        Such as ``2031-03-25 12:30``.
    """
    return datetime.fromtimestamp(unix_time, tz=UTC).strftime("%Y-%m-%d %H:%M")


def written_period(period: DeploymentPeriod) -> str:
    """
    Write a period as people read it.

    Parameters
    ----------
    period : DeploymentPeriod
        A deployment's period.

    Returns
    -------
    text : str
        From and until.
    """
    until = "now" if period.end is None else written_time(period.end)
    return f"{written_time(period.start)} until {until}"


def overlap(first: DeploymentPeriod, second: DeploymentPeriod) -> bool:
    """
    Whether two half-open periods share an instant.

    Parameters
    ----------
    first, second : DeploymentPeriod
        Two deployments.

    Returns
    -------
    shared : bool
        False where one ends as the other begins.
    """
    ends = [FAR_FUTURE if p.end is None else p.end for p in (first, second)]
    return max(first.start, second.start) < min(ends)
