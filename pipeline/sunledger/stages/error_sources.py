"""Where the errors of archived minutes come from, and which quantities have them in common.

One instrument, one logger, one clock and one reference scale bring one error each into everything
that rests on them; of one laboratory's certificates the settings say how far they err together. All
else is independent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.coefficients import Coefficients
from sunledger.config.resolve import Period
from sunledger.config.signal_paths import SignalPath
from sunledger.physics.changing_light import signed_change, timing_half_width
from sunledger.physics.gum import combined_standard_uncertainty
from sunledger.physics.uncertainty import FORMS, Situation
from sunledger.physics.uncertainty_inputs import DIVISORS, SCALE_UNCERTAINTY, Component
from sunledger.stages.beside import logger_of
from sunledger.stages.budgets import Piece, lag_of, pieces
from sunledger.stages.mean_uncertainty import UNKNOWN, Split
from sunledger.stages.surroundings import Surroundings
from sunledger.stages.uncertain_minutes import COVERAGE_FACTOR, of_one, on_grid_of

Array = npt.NDArray[np.float64]
Floats = npt.NDArray[np.floating]
Values = Mapping[str, npt.NDArray[Any]]
Parts = dict[str, Floats]

COURSES = {"signal": "signal", "yearly": "signal", "absolute": "offset", "voltage": "offset"}
"""Form → course of its errors, where forms share one; each other form has its own."""

INDEPENDENT = "independent"
ROUNDING = 2.0**-7
"""To which archived uncertainties are rounded. [W m-2]"""


def _percent(component: Component, standard: float) -> Component:
    """The same with another standard uncertainty."""
    return replace(component, width=standard * DIVISORS[component.law])


@dataclass(frozen=True)
class _Common:
    """What a position has in common with others: logger, interval, laboratories' correlation."""

    logger: str
    interval: int
    together: float


def _apart(component: Component, piece: Piece, common: _Common) -> Iterator[tuple[str, Component]]:
    """A component by the sources that bring it: what others share, and what is its own."""
    row = piece.row
    own = f"{row.serial_number} {COURSES.get(component.form, component.form)}"
    if component.name == "calibration":
        for source, size in _of_certificate(component.standard, row, common.together):
            yield source or own, _percent(component, size)
        return
    if component.name == "logger_gain" and piece.path is not None:
        yield from _of_devices(component, piece.path)
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


def _pyrgeometer(row: Coefficients) -> str:
    model = row.corrections.thermal_offset
    return "" if model is None or model.beside is None else model.beside


def _amounts(found: list[tuple[str, Component]], situation: Situation) -> Parts:
    """Expanded amounts by source, with the sign of the signal where they go with it."""
    sign = np.sign(situation.proportional)
    # components of one form and source have one coefficient: far fewer arrays than components
    standards: dict[tuple[str, str], list[float]] = {}
    for source, component in found:
        standards.setdefault((source, component.form), []).append(component.standard)
    out: dict[str, list[Array]] = {}
    for (source, form), sizes in standards.items():
        one = COVERAGE_FACTOR * float(combined_standard_uncertainty(sizes))
        out.setdefault(source, []).append(np.asarray(FORMS[form](situation) * one))
    parts = {
        source: several[0] if len(several) == 1 else combined_standard_uncertainty(several)
        for source, several in out.items()
    }
    follow = {s for s, f in standards if f in ("signal", "yearly", "soiling")}
    return {s: part * sign if s in follow else part for s, part in parts.items()}


def _of_timing(piece: Piece, slope: Array, known: _Common) -> tuple[Parts, Floats]:
    """
    What of the timing lasts: clock and lag displace all minutes to one side.

    Returns
    -------
    common, sample : dict of numpy.ndarray, numpy.ndarray, shape (minute,)
        The displacement times the course of the light, and what the changing light leaves. The
        squares of all add up to that of the component.
    """
    component = next(c for c in piece.components if c.form == "timing")
    scale = COVERAGE_FACTOR * component.standard
    whole = scale * np.asarray(piece.situation.timing)
    lag = lag_of(piece.row)
    lasting = scale * timing_half_width(1.0, piece.displaced + lag, known.interval) * slope
    share = piece.displaced / (piece.displaced + lag)
    common: Parts = {
        f"clock of {known.logger}": lasting * np.sqrt(share),
        f"{piece.row.serial_number} lag": lasting * np.sqrt(1.0 - share),
    }
    return common, np.sqrt(np.maximum(whole**2 - lasting**2, 0.0))


def _of_piece(piece: Piece, slope: Array, known: _Common) -> tuple[Parts, ...]:
    """Common, daily and independent parts of the minutes of one certificate."""
    groups: dict[str, list[tuple[str, Component]]] = {}
    for component in piece.components:
        if component.width and component.form != "timing":
            mine = groups.setdefault(component.common, [])
            mine += _apart(component, piece, known)
    common: Parts = {}
    for name in ("calibration", "upkeep"):
        common |= _amounts(groups.get(name, []), piece.situation)
    lasting, moving = _of_timing(piece, slope, known)
    rest = _amounts(groups.get("sample", []), piece.situation).values()
    sample: Parts = {INDEPENDENT: combined_standard_uncertainty([moving, *rest])}
    return common | lasting, _amounts(groups.get("day", []), piece.situation), sample


def _put(out: Parts, parts: Parts, where: Any, kept: Any, size: int) -> None:
    for name, part in parts.items():
        # single precision is ample for the uncertainty of an uncertainty
        column = out.setdefault(name, np.zeros(size, np.float32))
        column[where] = part[kept] if part.ndim else part


def _with_rest(split: Split, stated: Floats, quantity: str) -> Split:
    """What the archived uncertainty has beyond the parts counts as one error that stays."""
    square = split.sample.astype(np.float64) ** 2
    for part in (*split.common.values(), *split.day.values()):
        square += part.astype(np.float64) ** 2
    left = stated.astype(np.float64) ** 2 - square
    left = np.where(left > 2.0 * ROUNDING * stated, left, 0.0)
    if not left.any():
        return split
    rest = np.sqrt(left).astype(np.float32)
    return Split({**split.common, f"{UNKNOWN} of {quantity}": rest}, split.day, split.sample)


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
    """Parts from all that held a quantity, one after the other."""
    common: Parts = {}
    day: Parts = {}
    sample: Parts = {}
    where: Any
    slope, numbers = signed_change(values[quantity]), np.arange(around.time.size)
    for holder, position, start, end in period.primary:
        inside = (around.time >= start) & (around.time < end)
        if holder != quantity or not inside.any():
            continue
        logger = logger_of(period, position).name
        known = _Common(
            logger, around.interval, period.processing.uncertainty.laboratory_correlation
        )
        for piece in pieces(position, of_one(values, quantity, logger), around, period):
            kept = inside[piece.where]
            found = _of_piece(piece, slope[piece.where], known)
            where = numbers[piece.where][kept]
            if 0 < where.size == where[-1] - where[0] + 1:  # the usual case, and much faster
                where = slice(where[0], where[-1] + 1)
            for out, parts in zip((common, day, sample), found, strict=True):
                _put(out, parts, where, slice(None) if kept.all() else kept, numbers.size)
    # a source that brings nothing would be summed for nothing
    common, day = ({n: p for n, p in parts.items() if p.any()} for parts in (common, day))
    return Split(common, day, sample.get(INDEPENDENT, np.zeros(numbers.size, np.float32)))
