"""How far a run is, by station and stage, and how long it will still take."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from sunledger.run.unit import Kind, Unit

STAGE: dict[Kind, str] = {"voltage": "ingest", "minute": "minutes", "aggregate": "means"}
"""Word for what makes each kind of unit; minutes are calibrated, timed and flagged in one go."""


@dataclass
class Count:
    """
    Units of one station and stage.

    Parameters
    ----------
    total : int
        To be made.
    done : int
        Tried, failed ones included.
    failed : int
        Failed.
    seconds : float
        Time that those done took together. [s]
    """

    total: int = 0
    done: int = 0
    failed: int = 0
    seconds: float = 0.0


@dataclass
class Tally:
    """
    Counts of a run.

    Parameters
    ----------
    counts : dict of Count
        By station and stage, in the order of the plan.
    workers : int
        Units made at a time.
    """

    counts: dict[tuple[str, str], Count] = field(default_factory=dict)
    workers: int = 1

    def add(self, place: tuple[str, str], failed: bool, seconds: float) -> Count:
        """
        Count a unit that was tried.

        Parameters
        ----------
        place : (str, str)
            Its station and stage.
        failed : bool
            Whether it failed.
        seconds : float
            Time it took. [s]

        Returns
        -------
        count : Count
            Of its place.
        """
        count = self.counts.setdefault(place, Count())
        count.done += 1
        count.failed += failed
        count.seconds += seconds
        return count

    def remaining(self) -> float | None:
        """
        Time that the rest will take, if its units take as long as those of their stage so far.

        Returns
        -------
        seconds : float or None
            None before the first unit is done. A stage of which none is done is taken to cost what
            the others do on average. [s]
        """
        done = sum(c.done for c in self.counts.values())
        if not done:
            return None
        mean = sum(c.seconds for c in self.counts.values()) / done
        each = dict(self._means())
        left = sum((c.total - c.done) * each.get(s, mean) for (_, s), c in self.counts.items())
        return left / self.workers

    def _means(self) -> Iterator[tuple[str, float]]:
        for stage in {stage for _, stage in self.counts}:
            counts = [c for (_, s), c in self.counts.items() if s == stage]
            if done := sum(c.done for c in counts):
                yield stage, sum(c.seconds for c in counts) / done

    def lines(self) -> list[str]:
        """
        One line a station.

        Returns
        -------
        lines : list of str
            Such as ``osr: ingest 12/12, minutes 3/6, means 0/3``.
        """
        words: dict[str, list[str]] = {}
        for (station, stage), count in self.counts.items():
            failed = f" ({count.failed} failed)" if count.failed else ""
            words.setdefault(station, []).append(f"{stage} {count.done}/{count.total}{failed}")
        return [f"{station}: {', '.join(parts)}" for station, parts in words.items()]


def place_of(unit: Unit) -> tuple[str, str]:
    """
    Where a unit is counted.

    Parameters
    ----------
    unit : Unit
        The unit.

    Returns
    -------
    station, stage : str
        In words.
    """
    return unit.station, STAGE[unit.kind]


def tally_of(units: Iterable[Unit], workers: int) -> Tally:
    """
    Counts before the first unit is made.

    Parameters
    ----------
    units : iterable of Unit
        Stale units.
    workers : int
        Units made at a time.

    Returns
    -------
    tally : Tally
        All to be done.
    """
    tally = Tally(workers=workers)
    for unit in units:
        tally.counts.setdefault(place_of(unit), Count()).total += 1
    return tally


def tally_from(totals: Iterable[Mapping[str, object]], workers: int) -> Tally:
    """
    Counts as a run noted them.

    Parameters
    ----------
    totals : iterable of dict
        ``station``, ``stage`` and ``total`` of each place.
    workers : int
        Units made at a time.

    Returns
    -------
    tally : Tally
        All to be done.
    """
    tally = Tally(workers=workers)
    for row in totals:
        place = (str(row["station"]), str(row["stage"]))
        tally.counts[place] = Count(total=int(str(row["total"])))
    return tally


def duration(seconds: float) -> str:
    """
    A time as a person says it.

    Parameters
    ----------
    seconds : float
        [s]

    Returns
    -------
    words : str
        Such as ``40 s``, ``12 min``, ``3 h 20 min``.
    """
    if seconds < 90:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60} min"
