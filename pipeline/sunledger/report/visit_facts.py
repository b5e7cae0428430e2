"""What the record says stands at a station, and when it was last looked at."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sunledger.config.ledger_view import DAY
from sunledger.config.loading import StationConfig
from sunledger.config.models.checks import CheckSettings
from sunledger.config.models.fieldlog import ClockCheck, Entry, LevelCheck, Tilt
from sunledger.config.models.instruments import Calibration, Instrument
from sunledger.config.record import DeploymentPeriod, deployment_periods
from sunledger.config.visit_entries import written


@dataclass(frozen=True)
class Standing:
    """
    What stands at a position.

    Parameters
    ----------
    position : str
        Where.
    quantity : str
        What is measured there; empty for trackers and the like.
    period : DeploymentPeriod or None
        Since when; None where the record has nothing there.
    instrument : Instrument or None
        What; None where it is not in the inventory.
    certificate : Calibration or None
        Its newest.
    """

    position: str
    quantity: str
    period: DeploymentPeriod | None
    instrument: Instrument | None
    certificate: Calibration | None

    @property
    def serial(self) -> str:
        """
        Serial number.

        Returns
        -------
        serial : str
            Empty where nothing stands.
        """
        return "" if self.period is None else self.period.entry.instrument


def standing_now(config: StationConfig) -> list[Standing]:
    """
    What stands at every position after the newest entry of the record.

    Parameters
    ----------
    config : StationConfig
        The station's files.

    Returns
    -------
    standing : list of Standing
        Radiometers in the order of the channels, then everything else that stands.
    """
    open_now = {p.entry.position: p for p in deployment_periods(config.fieldlog) if p.end is None}
    positions = config.station.positions()
    serials = config.inventory.by_serial()
    rows = []
    for position in dict.fromkeys((*positions, *open_now)):
        period = open_now.get(position)
        instrument = None if period is None else serials.get(period.entry.instrument)
        newest = instrument.calibrations[-1] if instrument and instrument.calibrations else None
        rows.append(Standing(position, positions.get(position, ""), period, instrument, newest))
    return rows


def newest_entry(config: StationConfig) -> int | None:
    """
    Time of the newest entry of the field log.

    Parameters
    ----------
    config : StationConfig
        The station's files.

    Returns
    -------
    time : int or None
        None for an empty log. [s]
    """
    return max((e.time for e in config.fieldlog.in_force()), default=None)


def last_of(config: StationConfig, kind: str, where: str) -> Entry | None:
    """
    Newest entry of a kind at a position or of a logger.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    kind : str
        Such as ``level_check``.
    where : str
        Position or logger.

    Returns
    -------
    entry : Entry or None
        None where the record has none since what stands there was put up.
    """
    since = next(
        (s.period.start for s in standing_now(config) if s.position == where and s.period), 0
    )
    here = [
        e
        for e in config.fieldlog.in_force()
        if e.type == kind and where in _places(e) and e.time >= since
    ]
    return max(here, key=lambda e: e.time, default=None)


def _places(entry: Entry) -> tuple[str, ...]:
    single = getattr(entry, "position", None) or getattr(entry, "logger", None)
    return (single,) if single else getattr(entry, "positions", ())


def tilt_words(tilt: Tilt | None) -> str:
    """
    A tilt as people read it.

    Parameters
    ----------
    tilt : Tilt or None
        Size and direction. [degree]

    Returns
    -------
    words : str
        Such as ``0.05° toward 95°``.
    """
    if tilt is None:
        return "not noted"
    toward = "" if tilt.azimuth is None else f" toward {tilt.azimuth:g}°"
    return f"{tilt.size:g}°{toward}"


def entry_words(entry: Entry | None) -> str:
    """
    What an entry of the field log says, in a line.

    Parameters
    ----------
    entry : Entry or None
        The entry.

    Returns
    -------
    words : str
        Time, as found, as left.
    """
    if entry is None:
        return "none on record"
    if isinstance(entry, LevelCheck):
        left = entry.after_tightening or entry.left
        found = f"found {tilt_words(entry.found)}"
        said = found if left is None else f"{found}, left {tilt_words(left)}"
    elif isinstance(entry, ClockCheck):
        set_to = "not set" if entry.left is None else f"set to {entry.left:+g} s"
        said = f"found {entry.found:+g} s, {set_to}"
    else:
        found, left_as = getattr(entry, "found", ""), getattr(entry, "left", None)
        said = f"{found}, left {left_as}" if left_as else f"{found}"
    return f"{written(entry.time)}: {said}"


def due(config: StationConfig, settings: CheckSettings) -> Iterator[tuple[str, str, str, str]]:
    """
    When each radiometer was last cleaned and levelled, and when it is due again.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    settings : CheckSettings
        The plans.

    Yields
    ------
    row : tuple
        Position, what is due, what the record says of the last time, the day it is due.
    """
    for row in standing_now(config):
        if row.period is None or not row.quantity:
            continue
        plans = [("cleaning", "cleaning", settings.cleaning_plan)]
        if row.quantity != "dni":
            plans.append(("level_check", "level check", settings.level_plan))
        for kind, words, plan in plans:
            entry = last_of(config, kind, row.position)
            begun = row.period.start if entry is None else entry.time
            day = written(int(begun + plan * DAY))[:10]
            yield row.position, words, entry_words(entry), day
