"""Whether products agree with each other and with their manifests: counts, means, lines."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.archive.components import component_faults
from sunledger.archive.listing import MEANS, Published
from sunledger.archive.minute_counts import minute_counts
from sunledger.archive.netcdf import read_file
from sunledger.archive.specification import FileSpec
from sunledger.vocabulary import GRADES, QUANTITIES, TESTS

Faults = Iterator[tuple[Path, str]]
LINE_WORDS = ("kept", "repeated", "conflicting", "rejected")
DIRECTIONS = ("wind_from_direction",)
"""Averaged as vectors, so means of means do not hold."""
_EPS = float(np.finfo(np.float32).eps)


def product_faults(files: Mapping[str, Mapping[str, Published]]) -> Faults:
    """
    What in a station's products contradicts another product or a manifest.

    Parameters
    ----------
    files : dict of dict
        Product as in the change record → period → file.

    Yields
    ------
    path : Path
        The file that does not agree.
    why : str
        What was found and what was expected.
    """
    minutes, hours = files.get("minute", {}), files.get("hourly", {})
    for product, periods in files.items():
        for file in periods.values():
            yield from _own_faults(product.partition("_")[0], file, minutes)
    for file in hours.values():
        yield from hour_faults(file, minutes)
    for year, file in files.get("daily", {}).items():
        if year in hours:
            yield from day_faults(file, hours[year])


def _own_faults(product: str, file: Published, minutes: Mapping[str, Published]) -> Faults:
    """What in one file contradicts its manifest or what it was made of."""
    if product == "voltage":
        yield from line_faults(file)
    elif product == "minute":
        yield from minute_faults(file)
    elif product in MEANS:
        yield from key_faults(file, minutes)


def line_faults(file: Published) -> Faults:
    """
    Whether the accounting of raw lines adds up and is that of the file.

    Parameters
    ----------
    file : Published
        A voltage file.

    Yields
    ------
    path : Path
        The file.
    why : str
        What does not add up.
    """
    said = file.manifest.accounting
    total = sum(said.get(word, 0) for word in LINE_WORDS)
    if total != said.get("data_lines"):
        words = " + ".join(LINE_WORDS)
        yield file.path, f"{words} = {total}, but {said.get('data_lines')} data lines were read"
    spec = read_file(file.path)
    status = next(v.data for v in spec.variables if v.name.startswith("line_status"))
    for code, word in enumerate(("kept", "conflicting")):
        count = int(np.count_nonzero(status == code))
        if count != said.get(word):
            yield file.path, f"holds {count} {word} lines, the manifest says {said.get(word)}"


def minute_faults(file: Published) -> Faults:
    """
    Whether a minute file holds as many values and flags as its manifest says, and whole budgets.

    Parameters
    ----------
    file : Published
        A minute file.

    Yields
    ------
    path : Path
        The file.
    why : str
        What differs.
    """
    spec, said = read_file(file.path), file.manifest.accounting
    counted = minute_counts(spec)
    for what, found in counted.items():
        if found != said.get(what):
            yield file.path, f"{what}: {_difference(found, said.get(what))}"
    yield from ((file.path, why) for why in component_faults(spec))
    for quantity in counted["present"]:
        words = spec[f"{quantity}_flags"].data
        raised = {n: int(np.count_nonzero(words & bit.mask)) for n, bit in TESTS.items()}
        raised = {n: number for n, number in raised.items() if number}
        if raised != dict(file.manifest.flags_raised.get(quantity, {})):
            yield file.path, f"{quantity}: flags are not as many as in the manifest"


def _difference(found: Any, said: Any) -> str:
    """The first part of what was counted that the manifest tells otherwise."""
    if isinstance(found, dict) and isinstance(said, dict):
        for name in sorted({*found, *said}):
            if found.get(name) != said.get(name):
                return f"{name}: {_difference(found.get(name), said.get(name))}"
    return f"{found} in the file, the manifest says {said}"


def key_faults(file: Published, minutes: Mapping[str, Published]) -> Faults:
    """
    Whether a year file rests on the minute files that stand in the archive.

    Parameters
    ----------
    file : Published
        A year file.
    minutes : dict of Published
        Month → minute file.

    Yields
    ------
    path : Path
        The file.
    why : str
        Which month it does not rest on.
    """
    for month, key in _months(file).items():
        if month in minutes and minutes[month].manifest.key != key:
            yield file.path, f"was made of other minutes of {month} than stand in the archive"


def _months(file: Published) -> dict[str, str]:
    months: dict[str, str] = file.manifest.resolved_configuration.get("months", {})
    return months


def hour_faults(file: Published, minutes: Mapping[str, Published]) -> Faults:
    """
    Whether the hours follow from the minutes.

    Parameters
    ----------
    file : Published
        An hourly file.
    minutes : dict of Published
        Month → minute file.

    Yields
    ------
    path : Path
        The file.
    why : str
        Quantity, hour, and both values.
    """
    hours = read_file(file.path)
    settings: dict[str, Any] = file.manifest.resolved_configuration.get("aggregate", {})
    codes = [GRADES[g] for g in settings.get("counting_grades", ())]
    months = _months(file)
    longer = {name.split()[0] for name in months if " " in name}
    for month in file.manifest.resolved_configuration.get("holds", ()):
        # where a logger of longer intervals counts as well, minutes alone do not make the hours
        if month not in minutes or month in longer:
            continue
        spec = read_file(minutes[month].path)
        start = spec["time"].data
        place = np.searchsorted(hours["time"].data, start, side="right") - 1
        for name in _common(hours, spec):
            values = spec[name].data.astype(np.float64)
            counts = np.isfinite(values)
            if f"{name}_grade" in {v.name for v in spec.variables}:
                counts &= np.isin(spec[f"{name}_grade"].data, codes)
            inside = np.unique(place)
            number = np.bincount(place[counts], minlength=hours.dimensions["time"])
            total = np.bincount(place[counts], values[counts], hours.dimensions["time"])
            expected = (number[inside], total[inside])
            yield from _disagreement(file.path, hours, name, inside, expected)


def day_faults(file: Published, hourly: Published) -> Faults:
    """
    Whether the days follow from the hours.

    Parameters
    ----------
    file : Published
        A daily file.
    hourly : Published
        The hourly file of the same year.

    Yields
    ------
    path : Path
        The file.
    why : str
        Quantity, day, and both values.
    """
    days, hours = read_file(file.path), read_file(hourly.path)
    place = np.searchsorted(days["time"].data, hours["time"].data, side="right") - 1
    size = days.dimensions["time"]
    for name in _common(days, hours):
        number = hours[f"{name}_number_of_observations"].data.astype(np.int64)
        values = hours[name].data.astype(np.float64)
        total = np.bincount(place, np.where(number > 0, number * values, 0.0), size)
        counts = np.bincount(place, number, size).astype(np.int64)
        # an hour whose mean was withheld makes the day's total unknown (NaN), and is skipped
        yield from _disagreement(file.path, days, name, np.arange(size), (counts, total), 2.0)


def _common(longer: FileSpec, shorter: FileSpec) -> list[str]:
    names = [{v.name for v in spec.variables} for spec in (longer, shorter)]
    both = [n for n in QUANTITIES if n in names[0] and n in names[1]]
    return [n for n in both if n not in DIRECTIONS and f"{n}_number_of_observations" in names[0]]


def _disagreement(
    path: Path,
    spec: FileSpec,
    name: str,
    inside: npt.NDArray[np.intp],
    expected: tuple[npt.NDArray[Any], npt.NDArray[Any]],
    roundings: float = 1.0,
) -> Faults:
    """Name the first period whose count, or whose mean beyond rounding, is not as expected."""
    counts, totals = expected
    held = spec[f"{name}_number_of_observations"].data[inside]
    means = spec[name].data[inside].astype(np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        wanted = totals / counts
        step = QUANTITIES[name].resolution / 2
        tolerance = roundings * (step + _EPS * np.abs(wanted))
        wrong = np.abs(means - wanted) > tolerance  # False where either is missing
    for bad, what, pair in (
        (held != counts, "counts", (held, counts)),
        (wrong, "is", (means, wanted)),
    ):
        if np.any(bad):
            first = int(np.flatnonzero(bad)[0])
            label = np.datetime64(int(spec["time"].data[inside][first]), "s")
            got, want = (float(a[first]) for a in pair)
            n = int(np.count_nonzero(bad))
            yield path, f"{name} at {label} {what} {got:g}, but {want:g} follows ({n} such periods)"
