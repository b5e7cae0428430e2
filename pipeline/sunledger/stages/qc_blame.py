"""Closure beyond the single minute: which component is wrong, and small differences that stay."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.physics.closure import closure_test
from sunledger.physics.limits import MINIMUM_SUM
from sunledger.physics.windows import rolling_count, rolling_median
from sunledger.stages.qc_context import spiking
from sunledger.stages.qc_sky import Sky
from sunledger.stages.qc_view import Minutes, whole_diffuse

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Verdict = tuple[Mask, Mask]
Suspects = dict[str, Mask]

REACH = 2 * 3600
"""The hour's window on either side; the blame's and the spikes' are shorter. [s]"""
BLAME_HALF = 7
"""Minutes on either side over which the ratios to the clear sky are taken."""
SMALLEST = 0.005
"""Share of the global below which no test asks for the cause of a disagreement. [1]"""
LIT_SHARE = 0.3
"""Share of the clear-sky beam that has to arrive before a part of it can be missed. [1]"""
OVERCAST_DIRECT = 2.0
"""Direct below this cannot be too large. [W m-2]"""
LARGE_LEAK = 0.15
"""Share of the beam that a pyrheliometer does not read too much, and a shade may let pass. [1]"""
NO_BEAM, HALF_APART = 0.01, 0.3
"""Shares of the global: no beam below the first, another cause above the second. [1]"""
DARK_HALF, LEAST_DARK = 45, 8
"""Minutes on either side in which minutes without beam are looked for, and how many it takes."""
BEAM_LEFT, LEAK_LEFT = 0.4, 0.25
"""Diffuse and beam above the first share of global, their sum above it by the second: the diffuse
holds the beam too. [1]"""


def _lit(sky: Sky) -> Mask:
    """Where the beam arrives: by what the direct says, or what the other two ask for."""
    shining = np.maximum(sky.beam, sky.whole - sky.diffuse)
    return np.asarray(shining > LIT_SHARE * sky.clear_direct * sky.cosine)


def _middle(sky: Sky, values: Array) -> Array:
    """Median of the lit minutes around each: minutes behind a cloud say nothing of a clear sky."""
    lit = np.where(_lit(sky), values, np.nan)
    return rolling_median(lit, sky.steps(BLAME_HALF), 3, _asked(sky))


def _asked(sky: Sky) -> Mask:
    """Where the disagreement is large enough that any test asks who is wrong."""
    return np.asarray(np.abs(sky.residual) > SMALLEST * sky.whole)


def _inside(values: Array, low: float, high: float) -> Mask:
    return np.asarray((values > low) & (values < high))


def _explanations(sky: Sky, minutes: Minutes) -> tuple[Suspects, Array, Array]:
    """Which component, put right by the other two, would leave a plausible clear sky."""
    limits, residual = minutes.settings.blame, sky.residual
    in_global = (limits.lowest_global, limits.highest_global)
    in_direct = (limits.lowest_direct, limits.highest_direct)
    in_diffuse = (limits.lowest_diffuse, limits.highest_diffuse)
    expected, clear = sky.clear_global, sky.clear_direct
    g = _middle(sky, sky.whole / expected)
    s = _middle(sky, (sky.whole - residual) / expected)
    d = _inside(_middle(sky, sky.diffuse / expected), *in_diffuse)
    d_asked = _inside(_middle(sky, (sky.diffuse + residual) / expected), *in_diffuse)
    b = _inside(_middle(sky, sky.direct / clear), *in_direct)
    lit = np.maximum(sky.cosine, 0.01)
    b_asked = _inside(_middle(sky, (sky.direct + residual / lit) / clear), *in_direct)
    whole = _inside(g, *in_global)
    found = {
        "ghi": _inside(s, *in_global) & d & b,
        "dhi": whole & d_asked & b,
        "dni": whole & d & b_asked,
    }
    return found, np.abs(g - 1.0), np.abs(s - 1.0)


def _by_the_clear_sky(sky: Sky, minutes: Minutes) -> Suspects:
    found, global_off, sum_off = _explanations(sky, minutes)
    margin = minutes.settings.blame.margin
    found["ghi"] &= sum_off < global_off + margin
    found["dhi"] &= global_off < sum_off + margin
    # a window is obstructed or soiled more often than a global reads too much
    found["dni"] &= global_off < sum_off + np.where(sky.residual > 0, 1.5, 1.0) * margin
    # of diffuse and direct, the beam is what reaches both: a large share of it too much beside a
    # beam that needs nothing is a leak; missing light is the direct's, whose share is the larger
    both = found["dhi"] & found["dni"]
    high = sky.residual < 0
    rich = _middle(sky, sky.diffuse + sky.beam * 0.85) > _middle(sky, sky.clear_global)
    rich &= -sky.residual > LARGE_LEAK * sky.beam
    found["dhi"] &= ~(both & ~high)
    found["dni"] &= ~(both & high & rich)
    return found


def _by_the_shade(sky: Sky) -> tuple[Mask, Mask]:
    """
    What the minutes without beam say of those with it.

    Global and diffuse then see the same: where they agree, a disagreement in the sun comes with
    the beam and is not the global's; where they differ as in the sun, it is not the direct's.
    """
    dark = (sky.beam < NO_BEAM * sky.whole) & (sky.whole > MINIMUM_SUM)
    # a lost direct is no shade: there global exceeds diffuse by the beam itself
    dark &= np.abs(sky.residual) < HALF_APART * sky.whole
    relative = np.where(dark, sky.residual / np.where(dark, sky.whole, 1.0), np.nan)
    lit = _lit(sky) & _asked(sky)
    without = rolling_median(relative, sky.steps(DARK_HALF), LEAST_DARK, lit)
    with_beam = np.where(lit, sky.residual / np.where(lit, sky.whole, 1.0), np.nan)
    ratio = without / np.where(with_beam == 0.0, np.nan, with_beam)
    return ratio < 0.25, ratio > 0.75


def _by_themselves(sky: Sky, minutes: Minutes) -> tuple[Mask, Mask]:
    """Where the direct is lost, and where diffuse and beam are both most of the global."""
    horizontal, settings = sky.whole - sky.diffuse, minutes.settings.pointing
    lost = (horizontal > settings.least_horizontal) & (sky.beam < settings.lost_share * horizontal)
    uncovered = (sky.diffuse > BEAM_LEFT * sky.whole) & (sky.beam > BEAM_LEFT * sky.whole)
    return lost, uncovered & (sky.residual < -LEAK_LEFT * sky.whole)


def _with_spikes(suspects: Suspects, minutes: Minutes) -> Suspects:
    """Neighbours in time: a component that alone left them is the wrong one."""
    spikes = {q: verdict[1] for q, verdict in spiking(minutes).items()}
    told = np.logical_or.reduce(list(spikes.values()))
    return {q: np.where(told, spikes[q], mask) for q, mask in suspects.items()}


def blamed(minutes: Minutes) -> Suspects:
    """
    Say which components may be wrong where the three disagree.

    Parameters
    ----------
    minutes : Minutes
        The minutes, all three components among them.

    Returns
    -------
    suspects : dict of numpy.ndarray of bool, shape (time,)
        By quantity. All three are true where it cannot be told.

    Notes
    -----
    Global, unlike direct, hardly depends on haze: under a clear sky the one of global and
    component sum that lies nearer the expectation is held to be right. A direct that is lost while
    global less diffuse is bright is wrong by itself; without a beam the direct cannot be too large.
    """
    sky = minutes.whole_sky
    suspects = _by_the_clear_sky(sky, minutes)
    lost, uncovered = _by_themselves(sky, minutes)
    with_beam, without = _by_the_shade(sky)
    suspects["ghi"] = suspects["ghi"] & ~(with_beam & (suspects["dhi"] | suspects["dni"]))
    suspects["dni"] = suspects["dni"] & ~without
    told = np.logical_or.reduce(list(suspects.values()))
    out = {q: np.where(told, mask, True) for q, mask in suspects.items()}
    out["ghi"] = out["ghi"] & (told | ~with_beam)
    out["dni"] = out["dni"] & (told | ~without)
    overcast = (sky.direct < OVERCAST_DIRECT) & (sky.residual < 0)
    out["dni"] = out["dni"] & ~overcast
    for quantity in out:
        out[quantity] = np.where(lost, quantity == "dni", out[quantity])
        out[quantity] = np.where(uncovered & ~lost, quantity == "dhi", out[quantity])
    return _with_spikes(out, minutes)


def _minute_closure(minutes: Minutes) -> Verdict:
    zenith = minutes.zenith("dni")
    tested, failed = closure_test(minutes["ghi"], minutes["dhi"], minutes["dni"], zenith)
    together = minutes.together("ghi", "dhi", "dni") & whole_diffuse(minutes.ds)
    return tested & together, failed & together


def components_disagree(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Compare global with diffuse plus direct on the horizontal.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        ``ghi``, ``dhi`` or ``dni``.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        None where a component is not measured. Minutes whose clocks are apart are not tested. Only
        the components that may be wrong fail; all three where that cannot be told.
    """
    if minutes.sky_or_none is None:
        return None
    tested, failed = minutes.once("closure", _minute_closure)
    return tested, failed & minutes.once("blame", blamed)[quantity]


def _hourly_parts(minutes: Minutes) -> tuple[Mask, Array, Array, Array]:
    """Where an hour can be compared; relative closure; medians, relative and absolute."""
    sky, settings = minutes.whole_sky, minutes.settings.closure
    half = sky.steps(settings.window)
    total = sky.diffuse + sky.beam
    lit = sky.known & (total > MINIMUM_SUM) & (sky.zenith < settings.largest_zenith)
    relative = np.where(lit, sky.residual / np.where(lit, total, 1.0), np.nan)
    absolute = np.where(lit, sky.residual, np.nan)
    least = max(3, sky.steps(settings.least_minutes))
    enough = lit & (rolling_count(lit, half) >= least)
    # most hours close: medians only of minutes that disagree themselves, and of what they show
    own = np.abs(relative) > settings.largest_difference / 2
    middle = rolling_median(relative, half, least, own)
    far = np.abs(middle) > settings.largest_difference
    return enough, relative, middle, rolling_median(absolute, half, least, far)


def hourly_medians(minutes: Minutes) -> tuple[Array, Array]:
    """
    Closure over the hour around each minute.

    Parameters
    ----------
    minutes : Minutes
        The minutes, all three components among them.

    Returns
    -------
    relative, absolute : numpy.ndarray, shape (time,)
        Medians of global less component sum, over the sum [1] and as it is [W m-2]; NaN where the
        minute itself agrees.
    """
    return minutes.once("hourly parts", _hourly_parts)[2:]


def _hourly_closure(minutes: Minutes) -> Verdict:
    settings = minutes.settings.closure
    enough, relative, middle, absolute = minutes.once("hourly parts", _hourly_parts)
    far = np.abs(middle) > settings.largest_difference
    far &= np.abs(absolute) > settings.least_difference
    own = relative * np.sign(middle) > settings.largest_difference / 2
    return enough, ~np.isnan(relative) & far & own


def components_disagree_for_long(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Compare global with the component sum over an hour.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        ``ghi``, ``dhi`` or ``dni``.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        None where a component is not measured. The median of the hour around a minute sees half
        of what a single minute may show; the minute itself must lie on the same side.
    """
    if minutes.sky_or_none is None:
        return None
    tested, failed = minutes.once("hourly", _hourly_closure)
    return tested, failed & minutes.once("blame", blamed)[quantity]


def steady_light(minutes: Minutes) -> Any:
    """
    Say where the light is steady.

    Parameters
    ----------
    minutes : Minutes
        The minutes.

    Returns
    -------
    steady : numpy.ndarray of bool, shape (time,)
        False where a component is not measured.
    """
    if minutes.sky_or_none is None:
        return np.zeros(minutes.ds.sizes["time"], bool)
    return minutes.sky.steady(minutes.settings.closure.steady_range)
