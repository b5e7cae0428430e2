"""Where the errors of archived minutes come from, and which quantities have them in common.

One instrument, one logger, one clock and one reference scale bring one error each into everything
that rests on them; of one laboratory's certificates the settings say how far they err together. All
else is independent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from math import hypot
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.coefficients import Coefficients
from sunledger.config.resolve import Period
from sunledger.config.signal_paths import SignalPath
from sunledger.physics.changing_light import signed_change
from sunledger.physics.gum import combined_standard_uncertainty
from sunledger.physics.segments import Selection
from sunledger.physics.uncertainty import (
    DIRECTIONAL_REFERENCE,
    FORMS,
    NET_LONGWAVE_REFERENCE,
    Situation,
    across,
)
from sunledger.physics.uncertainty_inputs import DIVISORS, SCALE_UNCERTAINTY, Component
from sunledger.stages.beside import logger_of
from sunledger.stages.budgets import Piece, pieces
from sunledger.stages.error_split import COMMON, DAILY, UNKNOWN, Split
from sunledger.stages.places import run_or_rows
from sunledger.stages.surroundings import Surroundings
from sunledger.stages.uncertain_minutes import COVERAGE_FACTOR, of_one, on_grid_of

Array = npt.NDArray[np.float64]
Floats = npt.NDArray[np.floating]
Values = Mapping[str, npt.NDArray[Any]]

Sizes = dict[str, dict[str, float]]
"""Source → form → expanded size."""

COURSES = {"signal": "signal", "yearly": "signal", "absolute": "offset", "voltage": "offset"}
"""Form → course of its errors, where forms share one; each other form has its own."""

ROUNDING = 2.0**-7
"""To which archived uncertainties are rounded. [W m-2]"""


def _percent(component: Component, standard: float) -> Component:
    """The same with another standard uncertainty."""
    return replace(component, width=standard * DIVISORS[component.law])


@dataclass(frozen=True)
class _Common:
    """What a position has in common with others: logger, interval, what the settings say."""

    logger: str
    interval: int
    together: float
    level: float


def _apart(
    component: Component, row: Coefficients, path: SignalPath | None, common: _Common
) -> Iterator[tuple[str, Component]]:
    """A component by the sources that bring it: what others share, and what is its own."""
    own = f"{row.serial_number} {COURSES.get(component.form, component.form)}"
    if component.name == "calibration":
        for source, size in _of_certificate(component.standard, row, common.together):
            yield source or own, _percent(component, size)
        return
    if component.name == "logger_gain" and path is not None:
        yield from _of_devices(component, path)
        return
    elif component.name == "logger_gain":
        own = f"gain of {common.logger}"
    elif component.form == "net_longwave_error":
        own = f"net longwave beside {_pyrgeometer(row)}"
    yield own, component


def _of_certificate(size: float, row: Coefficients, together: float) -> Iterator[tuple[str, float]]:
    """Standard uncertainty by what brings it: the scale, the laboratory, else the instrument."""
    shared = min(SCALE_UNCERTAINTY, size) if row.reference_scale else 0.0
    rest = float(np.sqrt(size**2 - shared**2))
    for source, part in (
        (f"scale {row.reference_scale}", shared),
        (f"laboratory {row.laboratory}", rest * together**0.5 if row.laboratory else 0.0),
        ("", rest * (1.0 - together) ** 0.5 if row.laboratory else rest),
    ):
        if part > 0.0:
            yield source, part


def _of_devices(component: Component, path: SignalPath) -> Iterator[tuple[str, Component]]:
    """The gain of a way, by the certificates of the devices on it, which other ways pass too."""
    whole = path.relative_uncertainty
    for name, part in zip(path.certificates, path.relative_uncertainties, strict=True):
        yield f"gain, certificate {name}", _percent(component, component.standard * part / whole)


@lru_cache(maxsize=256)
def _sources(
    components: tuple[Component, ...], row: Coefficients, path: SignalPath | None, common: _Common
) -> dict[str, Sizes]:
    """Expanded sizes by how long errors stay, source and form; the same for every month."""
    several: dict[tuple[str, str, str], list[float]] = {}
    for component in components:
        if component.width and component.form != "timing":
            for source, part in _apart(component, row, path, common):
                key = (component.common, source, part.form)
                several.setdefault(key, []).append(part.standard)
    out: dict[str, Sizes] = {}
    for (lasting, source, form), standards in several.items():
        of_source = out.setdefault(lasting, {}).setdefault(source, {})
        of_source[form] = COVERAGE_FACTOR * hypot(*standards)
    return out


def _pyrgeometer(row: Coefficients) -> str:
    model = row.corrections.thermal_offset
    return "" if model is None or model.beside is None else model.beside


SIGNAL, UNIT, BEAM, ACROSS, NET = "signal", "unit", "beam", "across", "net longwave"
"""What errors go by in time: several sources by one of them, each by its own factor."""
FACTORS = {"beam": 1.0 / DIRECTIONAL_REFERENCE, "net_longwave": 1.0 / NET_LONGWAVE_REFERENCE}
GOES_BY = {
    "signal": SIGNAL,
    "yearly": SIGNAL,
    "soiling": SIGNAL,
    "absolute": UNIT,
    "voltage": UNIT,
    "net_longwave_error": UNIT,
    "beam": BEAM,
    "tilt": ACROSS,
    "net_longwave": NET,
    "thermal_sensitivity": NET,
}
"""Form → what its errors go by; those of other forms by their own coefficient."""


def _size(form: str, s: Situation, level: float) -> tuple[Any, Any]:
    """An error of a form by what it goes by, and the usual one, which does not depend on time."""
    if form == "signal":
        return 0.01, 0.01
    if form == "yearly":
        return np.asarray(s.years, np.float32) / 100.0, 0.01
    if form == "soiling":
        return np.asarray(s.soiling) / 100.0, 0.0
    if form == "tilt":
        return np.sin(np.radians(s.tilt)), np.sin(np.radians(level))
    if form == "thermal_sensitivity":
        size = np.asarray(s.thermal_sensitivity) / 100.0 / np.asarray(s.sensitivity)
    else:
        size = FACTORS[form] if form in FACTORS else np.asarray(FORMS[form](s))
    size = _told(size)  # of a minute without a temperature nothing can be told
    return size, size


def _told(amount: Any) -> Any:
    """0 where it is not known: sums of products would keep a NaN that does not count."""
    return Selection(np.isfinite(amount)).blanked(amount) if np.ndim(amount) else amount


def _root(one: Any, two: Any) -> Any:
    return np.sqrt(one * one + two * two) if np.ndim(one) or one else two


def _brings_something(amount: Any) -> bool:
    # a comparison is many times as fast as asking numbers for their truth
    return not np.all(np.equal(amount, 0.0))


class _Built:
    """Amounts and sources of the minutes of one certificate, as they are found."""

    def __init__(self, piece: Piece, name: tuple[str, int], level: float) -> None:
        self.situation, self.level = piece.situation, level
        quantity, number = name
        self.names = {go: f"{quantity} {go} {number}" for go in {*GOES_BY.values()}}
        self.by: dict[str, Any] = {UNIT: 1.0, "": 1.0}
        self.amounts: dict[str, Any] = {}
        self.sources: dict[str, dict[str, float]] = {}
        self.squares: float | Array = 0.0

    def _by(self, go: str) -> Any:
        """What errors go by; single precision is ample for the uncertainty of an uncertainty."""
        if go not in self.by:
            s = self.situation
            course = {SIGNAL: s.proportional, BEAM: s.beam, NET: s.net_longwave}
            found = np.asarray(across(s) if go == ACROSS else course[go], np.float32)
            found = _told(found) if go == SIGNAL else found
            self.by[go] = np.abs(found) if go == NET else found
        return self.by[go]

    def _is_there(self, go: str) -> bool:
        """False for the beam on a shaded instrument, and for a signal that cannot be told."""
        found = self._by(go)
        if np.ndim(found) and (go != SIGNAL or self.names[go] in self.amounts):
            return True
        return _brings_something(found)

    def own(self, key: str, amount: Floats) -> None:
        """A course that a source shares with none; one that brings nothing is left out."""
        if _brings_something(amount):
            self.amounts[key] = amount
            self.sources.setdefault(key, {})[key] = 1.0

    def add(self, word: str, found: Sizes) -> None:
        """Sources of some components; those of one source and course add by squares."""
        for source, courses in self._by_source(found).items():
            key = f"{word} {source}"
            if len(courses) > 1:
                parts = [self._by(go) * size for go, (size, _) in courses.items()]
                whole = combined_standard_uncertainty(parts)
                self.own(key, whole * np.sign(self._by(SIGNAL)) if SIGNAL in courses else whole)
                continue
            ((go, (size, usual)),) = courses.items()
            if not go or np.ndim(usual):
                self.own(key, self._by(go) * size)
                continue
            if usual and self._is_there(go):
                self.amounts[self.names[go]] = self._by(go)
                self.sources[key] = {self.names[go]: float(usual)}
            # what comes on top at times: apart, so that the rest is the same bits at all times
            if np.ndim(size) or size != usual:
                self.own(key, self._by(go) * np.asarray(size - usual, np.float32))

    def add_independent(self, found: Sizes) -> None:
        """What is new in every minute."""
        for courses in self._by_source(found).values():
            for go, (size, _) in courses.items():
                self.squares = self.squares + (self._by(go) * size) ** 2

    def _by_source(self, found: Sizes) -> dict[str, dict[str, tuple[Any, Any]]]:
        """Expanded size and usual size by source and course."""
        out: dict[str, dict[str, tuple[Any, Any]]] = {}
        for source, forms in found.items():
            mine = out.setdefault(source, {})
            for form, one in forms.items():
                go = GOES_BY.get(form, "")
                size, usual = _size(form, self.situation, self.level)
                before = mine.get(go, (0.0, 0.0))
                mine[go] = _root(before[0], one * size), _root(before[1], one * usual)
        return out

    def add_timing(self, piece: Piece, slope: Floats, known: _Common) -> None:
        """
        What of the timing lasts: clock and lag displace all minutes to one side.

        The displacement times the course of the light lasts, what the changing light leaves is
        new in every minute. The squares of all add up to that of the component.
        """
        component = next(c for c in piece.components if c.form == "timing")
        scale, part = COVERAGE_FACTOR * component.standard, piece.timing.lasting
        lasting = part.share * np.asarray(slope * scale, np.float32)
        self.own(f"{COMMON} clock of {known.logger}", lasting * part.clock)
        self.own(f"{COMMON} {piece.row.serial_number} lag", lasting * part.lag)
        moving = np.asarray(piece.situation.timing * scale, np.float32) ** 2
        moving -= lasting * lasting
        self.squares = self.squares + np.maximum(moving, 0.0, out=moving)


def _of_piece(piece: Piece, slope: Floats, known: _Common, name: tuple[str, int]) -> _Built:
    """Amounts of the minutes of one certificate."""
    sources = _sources(piece.components, piece.row, piece.path, known)
    out = _Built(piece, name, known.level)
    for period, word in (("calibration", COMMON), ("upkeep", COMMON), ("day", DAILY)):
        out.add(word, sources.get(period, {}))
    out.add_independent(sources.get("sample", {}))
    out.add_timing(piece, slope, known)
    return out


def _put(amount: Any, where: Any, size: int) -> Any:
    """Single precision along the whole grid, 0 elsewhere; what is the same everywhere stays."""
    everywhere = isinstance(where, slice) and (where.start, where.stop) == (0, size)
    if everywhere:
        return np.asarray(amount, np.float32) if np.ndim(amount) else amount
    out = np.zeros(size, np.float32)
    out[where] = amount
    return out


def _with_rest(split: Split, stated: Floats, quantity: str) -> Split:
    """What the archived uncertainty has beyond the parts counts as one error that stays."""
    stated = np.asarray(stated, np.float32)
    left = np.asarray(stated * stated - split.square(), np.float32)
    beyond = Selection(left > 2.0 * ROUNDING * stated)
    if not beyond.valid.any():
        return split
    key = f"{COMMON} {UNKNOWN} of {quantity}"
    rest = np.sqrt(beyond.blanked(left))
    amounts, sources = {**split.amounts, key: rest}, {**split.sources, key: {key: 1.0}}
    return replace(split, amounts=amounts, sources=sources)


def split_of_minutes(ds: xr.Dataset, period: Period) -> Callable[[str], Split | None]:
    """
    How the uncertainty of archived minutes behaves in means.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes with ``solar_zenith_angle`` and the attribute ``interval``.
    period : Period
        Resolved configuration.

    Returns
    -------
    split : callable
        Quantity → Split along ``time``, or None where the minutes have no uncertainty.
    """
    if not any(f"{quantity}_uncertainty" in ds.variables for quantity in period.quantities()):
        return lambda quantity: None
    values, around = on_grid_of(ds, period)

    def split(quantity: str) -> Split | None:
        if f"{quantity}_uncertainty" not in values:
            return None
        found = _on_grid(quantity, values, around, period)
        return _with_rest(found, values[f"{quantity}_uncertainty"], quantity)

    return split


def _on_grid(quantity: str, values: Values, around: Surroundings, period: Period) -> Split:
    """Amounts from all that held a quantity, one after the other."""
    stated = np.asarray(values[f"{quantity}_uncertainty"], np.float32)
    out: Split | None = None
    slope, number = signed_change(values[quantity]), 0
    for holder, position, start, end in period.primary:
        first, past = np.searchsorted(around.time, [start, end])
        if holder != quantity or first == past:
            continue
        logger = logger_of(period, position).name
        settings = period.processing.uncertainty
        common = _Common(logger, around.interval, settings.laboratory_correlation, settings.level)
        for piece in pieces(position, of_one(values, quantity, logger), around, period):
            number += 1
            built = _of_piece(piece, slope[piece.where], common, (quantity, number))
            one = _spread(built, piece.where, (int(first), int(past)), around.time.size)
            out = one if out is None else out.plus(one)
    known = np.isfinite(stated)
    return Split({}, {}, 0.0, known) if out is None else replace(out, known=known)


def _spread(built: _Built, minutes: Any, held: tuple[int, int], size: int) -> Split:
    """The split along the whole grid, 0 but for the minutes in which the quantity was held."""
    where: Any = slice(*held)
    kept: Any = where
    if not isinstance(minutes, slice):
        rows = np.flatnonzero(minutes)
        kept = (rows >= held[0]) & (rows < held[1])
        where = run_or_rows(rows[kept])  # a slice is the usual case, and much faster

    def put(amount: Any) -> Any:
        return _put(amount[kept] if np.ndim(amount) else amount, where, size)

    amounts = {name: put(amount) for name, amount in built.amounts.items()}
    return Split(amounts, built.sources, put(built.squares), np.ones(size, bool))
