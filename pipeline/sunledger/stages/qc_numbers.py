"""The numbers that tripped a flag: what was measured beside what is allowed, for one interval.

Nothing is judged here. The tests have judged; this says with which numbers, for a person who asks
about one value.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import xarray as xr

from sunledger.config.resolve import Period
from sunledger.physics.limits import (
    CLOSURE_WINDOWS,
    DIFFUSE_RATIO_WINDOWS,
    RatioWindow,
    longwave_down_air_bounds,
    longwave_pair_bounds,
    longwave_up_air_bounds,
)
from sunledger.physics.runs import constant_run_length
from sunledger.stages.qc_air import credible_range
from sunledger.stages.qc_flag import minutes_view
from sunledger.stages.qc_hours import hours
from sunledger.stages.qc_spikes import departure_of
from sunledger.stages.qc_statistics import largest_step, steps_beside
from sunledger.stages.qc_view import Minutes, limit_of, limit_values, scale_of
from sunledger.vocabulary import QUANTITIES

Lines = Iterator[str]
Teller = Callable[[Minutes, str, int], Lines]


def flag_numbers(
    ds: xr.Dataset, period: Period, quantity: str, place: int
) -> dict[str, tuple[str, ...]]:
    """
    Numbers behind every test that failed in one interval.

    Parameters
    ----------
    ds : xarray.Dataset
        Flagged minutes with the neighbours that the tests look at.
    period : Period
        Resolved configuration.
    quantity : str
        The quantity.
    place : int
        Of the interval along ``time``.

    Returns
    -------
    numbers : dict of tuple of str
        Test → lines with what was measured and what is allowed, for every test that has a teller;
        only those that failed mean anything.
    """
    minutes = minutes_view(ds, period)
    known = {}
    for name, teller in TELLERS.items():
        try:
            known[name] = tuple(teller(minutes, quantity, place))
        except KeyError:  # a variable that this station does not have: the test cannot have failed
            continue
    return known


def _at(minutes: Minutes, name: str, place: int) -> float:
    return float(minutes[name][place])


def _limit(level: str, end: int) -> Teller:
    def tell(minutes: Minutes, quantity: str, place: int) -> Lines:
        limit = limit_of(minutes, quantity, level)
        if limit is not None:
            bound = float(limit_values(minutes, quantity, limit)[end][place])
            word = "below" if end == 0 else "above"
            yield f"{_at(minutes, quantity, place):.2f} W m-2, {word} the limit {bound:.2f} W m-2"

    return tell


def _site(minutes: Minutes, quantity: str, place: int) -> Lines:
    limit = limit_of(minutes, quantity, "site")
    if limit is not None:
        low, high = (float(v[place]) for v in limit_values(minutes, quantity, limit))
        yield f"{_at(minutes, quantity, place):.2f} W m-2, allowed {low:.2f} to {high:.2f} W m-2"


def _allowed(windows: tuple[RatioWindow, ...], zenith: float) -> str:
    for window in windows:
        if window.zenith_from <= zenith < window.zenith_to:
            return f"{window.lower:g} to {window.upper:g}"
    return "anything"


def _closure(minutes: Minutes, quantity: str, place: int) -> Lines:
    sky = minutes.whole_sky
    total = float((sky.diffuse + sky.beam)[place])
    yield (
        f"global {sky.whole[place]:.1f}, diffuse {sky.diffuse[place]:.1f} + direct"
        f" {sky.direct[place]:.1f} x cos {sky.zenith[place]:.2f} deg = {total:.1f} W m-2"
    )
    ratio = float(sky.whole[place]) / total if total > 0 else np.nan
    yield f"ratio {ratio:.3f}, allowed {_allowed(CLOSURE_WINDOWS, float(sky.zenith[place]))}"
    yield (
        f"a clear sky would give global {sky.clear_global[place]:.0f},"
        f" direct {sky.clear_direct[place]:.0f} W m-2"
    )


def _hourly(minutes: Minutes, quantity: str, place: int) -> Lines:
    yield from _closure(minutes, quantity, place)
    settings = minutes.settings.closure
    both = hours(minutes)
    for hour, name in zip(both, ("", " of sunlit minutes"), strict=True):
        if hour.far(settings)[place]:
            yield (
                f"median{name} over {2 * settings.window} min: {100 * hour.middle[place]:+.1f} %,"
                f" {hour.absolute[place]:+.1f} W m-2; allowed"
                f" {100 * settings.largest_difference:g} % or {settings.least_difference:g} W m-2"
            )
    if not any(hour.far(settings)[place] for hour in both):
        yield "its neighbours show the same without a gap to minutes whose hour disagrees"


def _diffuse(minutes: Minutes, quantity: str, place: int) -> Lines:
    whole, diffuse = (_at(minutes, q, place) for q in ("ghi", "dhi"))
    allowed = _allowed(DIFFUSE_RATIO_WINDOWS, float(minutes.zenith("dhi")[place]))
    yield f"diffuse {diffuse:.1f} over global {whole:.1f}: {diffuse / whole:.3f}, allowed {allowed}"


def _twins(minutes: Minutes, quantity: str, place: int) -> Lines:
    head = f"{quantity}_at_"
    for name in sorted(str(n) for n in minutes.ds if str(n).startswith(head)):
        if f"{name}_conditions" in minutes.ds:
            yield f"{name.removeprefix(head)}: {_at(minutes, name, place):.2f} W m-2"
    settings = minutes.settings.twins
    yield (
        f"allowed apart: {100 * settings.largest_difference:g} % or"
        f" {settings.least_difference:g} W m-2, for {settings.least_run} intervals"
    )


def _air(minutes: Minutes, quantity: str, place: int) -> Lines:
    bounds = longwave_down_air_bounds if quantity == "lwd" else longwave_up_air_bounds
    air = _at(minutes, "air_temperature", place)
    low, high = (float(b) for b in bounds(air))
    yield (
        f"{_at(minutes, quantity, place):.1f} W m-2 at {air:.2f} K in the air,"
        f" allowed {low:.1f} to {high:.1f} W m-2"
    )


def _pair(minutes: Minutes, quantity: str, place: int) -> Lines:
    up = _at(minutes, "lwu", place)
    low, high = (float(b) for b in longwave_pair_bounds(up))
    yield f"downward {_at(minutes, 'lwd', place):.1f}, allowed {low:.1f} to {high:.1f} W m-2"


def _stuck(minutes: Minutes, quantity: str, place: int) -> Lines:
    run = constant_run_length(minutes[f"{quantity}_fingerprint"])[place]
    least = minutes.settings.stuck.least_run[quantity]
    yield f"mean, minimum, maximum and deviation the same {run} times, allowed less than {least}"


def _spike(minutes: Minutes, quantity: str, place: int) -> Lines:
    jump = departure_of(minutes, quantity)
    limit = jump.limit(minutes.settings.spike.times_spread)[place]
    yield f"{jump.away[place]:+.1f} W m-2 from the neighbours' median, allowed {limit:.1f} W m-2"


def _spread(minutes: Minutes, quantity: str, place: int) -> Lines:
    names = (f"{quantity}_min", quantity, f"{quantity}_max", f"{quantity}_std")
    words = ("minimum", "mean", "maximum", "deviation")
    said = zip(words, names, strict=True)
    yield (
        ", ".join(f"{w} {_at(minutes, n, place):.2f}" for w, n in said if minutes.has(n))
        + f" {QUANTITIES[quantity].units}"
    )


def _night(minutes: Minutes, quantity: str, place: int) -> Lines:
    allowed = float(minutes.zero_offset[quantity][place])
    yield f"{_at(minutes, quantity, place):+.2f} W m-2 at night, allowed {allowed:.1f} W m-2"


def _polarity(minutes: Minutes, quantity: str, place: int) -> Lines:
    limit = minutes.settings.polarity.highest_irradiance * scale_of(quantity)
    zenith, unit = minutes.zenith(quantity)[place], QUANTITIES[quantity].units
    value = _at(minutes, quantity, place)
    yield f"{value:.1f} {unit} by day (sun at z {zenith:.1f} deg), limit {limit:g} {unit}"


def _frost(minutes: Minutes, quantity: str, place: int) -> Lines:
    still = minutes.unventilated.get(quantity)
    if still is not None and still[place]:
        yield "the status says that the ventilator stands"
    if quantity == "ghi" and minutes.sky_or_none is not None:
        sky, settings = minutes.whole_sky, minutes.settings.frost
        steps = sky.steps(60 * settings.hours_before)
        wettest = np.nanmax(minutes["relative_humidity"][max(0, place - steps) : place + 1])
        share = sky.residual[place] / (sky.diffuse + sky.beam)[place]
        yield (
            f"global {100 * share:+.1f} % from the component sum,"
            f" limit {-100 * settings.least_loss:g} %;"
            f" humidity up to {100 * wettest:.0f} % in the {settings.hours_before} h before"
        )


def _pointing(minutes: Minutes, quantity: str, place: int) -> Lines:
    words: dict[int, str] = minutes.ds.attrs.get("tracker_words", {})
    if words and minutes.has("tracker_mode"):
        mode = _at(minutes, "tracker_mode", place)
        said = words.get(int(mode), "nothing known") if np.isfinite(mode) else "nothing"
        yield f"the tracker says: {said}"
    if minutes.sky_or_none is not None:
        sky = minutes.whole_sky
        horizontal = sky.whole[place] - sky.diffuse[place]
        yield (
            f"direct on the horizontal {sky.beam[place]:.1f},"
            f" global less diffuse {horizontal:.1f} W m-2"
        )
        yield (
            f"direct {sky.direct[place]:.1f}, diffuse {sky.diffuse[place]:.1f};"
            f" a clear sky would give direct {sky.clear_direct[place]:.0f},"
            f" global {sky.clear_global[place]:.0f} W m-2"
        )


def _range(minutes: Minutes, quantity: str, place: int) -> Lines:
    low, high = credible_range(minutes, quantity)
    unit = QUANTITIES[quantity].units
    yield f"{_at(minutes, quantity, place):.6g}, allowed {low:.6g} to {high:.6g} (unit {unit})"


def _low_sun(minutes: Minutes, quantity: str, place: int) -> Lines:
    cosine = minutes[f"{quantity}_cosine_zenith"]
    change = abs(float(np.gradient(cosine)[place])) / float(cosine[place])
    limit = minutes.settings.low_sun.largest_change
    yield (
        f"the cosine of the zenith angle, {cosine[place]:.4f}, changes by {100 * change:.1f} %"
        f" within the interval, allowed {100 * limit:g} %"
    )


def _fast(minutes: Minutes, quantity: str, place: int) -> Lines:
    step = float(np.fmax(*(s[place] for s in steps_beside(minutes[quantity]))))
    unit = QUANTITIES[quantity].units
    limit = largest_step(minutes, quantity)
    yield f"changes by {step:.6g} from one minute to the next, allowed {limit:g} (unit {unit})"


def _soiled(minutes: Minutes, quantity: str, place: int) -> Lines:
    yield "the field log knows a soiling that ended with a later cleaning"


def _skyline(minutes: Minutes, quantity: str, place: int) -> Lines:
    skyline = np.nan if minutes.skyline is None else float(minutes.skyline[place])
    elevation = 90.0 - _at(minutes, "solar_zenith_angle", place)
    yield f"sun at {elevation:.2f} deg, the skyline at its azimuth at {skyline:.2f} deg"


TELLERS: dict[str, Teller] = {
    "below_physical_minimum": _limit("physical", 0),
    "above_physical_maximum": _limit("physical", 1),
    "below_rare_minimum": _limit("rare", 0),
    "above_rare_maximum": _limit("rare", 1),
    "outside_site_limits": _site,
    "components_disagree": _closure,
    "components_disagree_for_long": _hourly,
    "diffuse_above_global": _diffuse,
    "twins_disagree": _twins,
    "longwave_against_air_temperature": _air,
    "longwave_down_against_up": _pair,
    "stuck_value": _stuck,
    "spike": _spike,
    "spread_inconsistent": _spread,
    "night_offset_large": _night,
    "polarity_reversed": _polarity,
    "frost_or_ventilation": _frost,
    "tracker_off_sun": _pointing,
    "shade_misaligned": _pointing,
    "pyrheliometer_off_sun": _pointing,
    "beam_obstructed": _pointing,
    "below_horizon_profile": _skyline,
    "soiled": _soiled,
    "outside_credible_range": _range,
    "zenith_changes_fast": _low_sun,
    "changes_too_fast": _fast,
}
"""Test → what says its numbers; `missing` and `over_range` have none."""
