"""Closure beyond the single minute: which component is wrong, and small differences that stay."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.config.models.flagging import PointingSettings
from sunledger.physics.clear_periods import clear_periods
from sunledger.physics.closure import closure_test
from sunledger.physics.limits import MINIMUM_SUM
from sunledger.physics.windows import rolling_any, rolling_median
from sunledger.stages.qc_hours import hourly_closure
from sunledger.stages.qc_sky import Sky
from sunledger.stages.qc_spikes import spiking
from sunledger.stages.qc_statistics import spread_inconsistent, stuck_value
from sunledger.stages.qc_view import Minutes, whole_diffuse

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Verdict = tuple[Mask, Mask]
Suspects = dict[str, Mask]

REACH = 2 * 3600
"""The hour's window on either side; the blame's and the spikes' are shorter. [s]"""
BLAME_HALF = 7
"""Minutes on either side over which the ratios to the clear sky are taken."""
SMALLEST = 0.014
"""Share of the global below which no test asks for the cause of a disagreement. [1]"""
OVERCAST_DIRECT = 2.0
"""Direct below this cannot be too large. [W m-2]"""
LARGE_LEAK = 0.15
"""Share of the beam that a pyrheliometer does not read too much, and a shade may let pass. [1]"""
NO_BEAM, HALF_APART = 0.01, 0.3
"""Shares of the global: no beam below the first, another cause above the second. [1]"""
CLEAR_INTERVAL = 60
"""Interval for which the criteria of clear periods were set; others are judged without. [s]"""
BESIDE_CLEAR = 10
"""A minute so near to a clear period is judged as if in it. [min]"""
DARK_HALF, LEAST_DARK = 45, 8
"""Minutes on either side in which minutes without beam are looked for, and how many it takes."""
BEAM_LEFT, LEAK_LEFT = 0.4, 0.25
"""Diffuse and beam above the first share of global, their sum above it by the second: the diffuse
holds the beam too. [1]"""


def _middle(sky: Sky, values: Array, wanted: Mask) -> Array:
    """Median of the lit minutes around each: minutes behind a cloud say nothing of a clear sky."""
    lit = np.where(sky.lit, values, np.nan)
    return rolling_median(lit, sky.steps(BLAME_HALF), 3, wanted)


def _asked(sky: Sky) -> Mask:
    """Where the disagreement is large enough that any test asks who is wrong."""
    return np.asarray(np.abs(sky.residual) > SMALLEST * sky.whole)


def _inside(values: Array, low: float, high: float) -> Mask:
    return np.asarray((values > low) & (values < high))


def _explanations(sky: Sky, minutes: Minutes) -> tuple[Suspects, Array, Array]:
    """
    Which component, put right by the other two, would leave a plausible clear sky.

    Each is put right only where the other two are plausible: elsewhere it explains nothing.
    """
    asked = _asked(sky)
    limits, residual = minutes.settings.blame, sky.residual
    in_global = (limits.lowest_global, limits.highest_global)
    in_direct = (limits.lowest_direct, limits.highest_direct)
    in_diffuse = (limits.lowest_diffuse, limits.highest_diffuse)
    expected, clear = sky.clear_global, sky.clear_direct
    g = _middle(sky, sky.whole / expected, asked)
    whole = _inside(g, *in_global)
    d = _inside(_middle(sky, sky.diffuse / expected, asked), *in_diffuse)
    b = _inside(_middle(sky, sky.direct / clear, asked), *in_direct)
    s = _middle(sky, (sky.whole - residual) / expected, (d & b) | (whole & (d | b)))
    d_asked = _inside(_middle(sky, (sky.diffuse + residual) / expected, whole & b), *in_diffuse)
    lit = np.maximum(sky.cosine, 0.01)
    b_other = (sky.direct + residual / lit) / clear
    b_asked = _inside(_middle(sky, b_other, whole & d), *in_direct)
    found = {
        "ghi": _inside(s, *in_global) & d & b,
        "dhi": whole & d_asked & b,
        "dni": whole & d & b_asked,
    }
    return found, np.abs(g - 1.0), np.abs(s - 1.0)


def _near_clear(sky: Sky) -> Mask:
    """Minutes in or beside a period of clear sky by the shape of global or component sum."""
    if sky.interval != CLEAR_INTERVAL:
        return sky.known
    either = clear_periods(sky.whole, sky.clear_global)
    either |= clear_periods(sky.diffuse + sky.beam, sky.clear_global)
    return rolling_any(either, sky.steps(BESIDE_CLEAR))


def _by_the_clear_sky(sky: Sky, minutes: Minutes) -> Suspects:
    found, global_off, sum_off = _explanations(sky, minutes)
    settings = minutes.settings.blame
    # clouds beside the sun make the sky brighter than a clear one: then level tells less
    margin = np.where(_near_clear(sky), settings.margin, settings.margin_by_clouds)
    found["ghi"] &= sum_off < global_off + margin
    found["dhi"] &= global_off < sum_off + margin
    # a window is obstructed or soiled more often than a global reads too much
    found["dni"] &= global_off < sum_off + np.where(sky.residual > 0, 1.5, 1.0) * margin
    # of diffuse and direct, the beam is what reaches both: a large share of it too much beside a
    # beam that needs nothing is a leak; missing light is the direct's, whose share is the larger
    both = found["dhi"] & found["dni"]
    high = sky.residual < 0
    open_ = both & high
    most, clear = sky.diffuse + sky.beam * 0.85, sky.clear_global
    rich = _middle(sky, most, open_) > _middle(sky, clear, open_)
    rich &= -sky.residual > LARGE_LEAK * sky.beam
    found["dhi"] &= ~(both & ~high)
    found["dni"] &= ~(open_ & rich)
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
    lit = sky.lit & _asked(sky)
    without = rolling_median(relative, sky.steps(DARK_HALF), LEAST_DARK, lit)
    with_beam = np.where(lit, sky.residual / np.where(lit, sky.whole, 1.0), np.nan)
    ratio = without / np.where(with_beam == 0.0, np.nan, with_beam)
    return ratio < 0.25, ratio > 0.75


def lost_direct(sky: Sky, settings: PointingSettings) -> tuple[Mask, Mask]:
    """
    Say where a direct has to be seen, and where it is lost.

    Parameters
    ----------
    sky : Sky
        The three components.
    settings : PointingSettings
        Limits.

    Returns
    -------
    asked, lost : numpy.ndarray of bool, shape (time,)
        By global less diffuse, minute by minute.
    """
    horizontal = sky.whole - sky.diffuse
    asked = horizontal > settings.least_horizontal
    asked &= horizontal > settings.least_share_of_global * sky.whole
    return asked, asked & (sky.beam < settings.lost_share * horizontal)


def _by_themselves(sky: Sky, minutes: Minutes) -> tuple[Mask, Mask]:
    """Where the direct is lost, and where diffuse and beam are both most of the global."""
    lost = lost_direct(sky, minutes.settings.pointing)[1]
    uncovered = (sky.diffuse > BEAM_LEFT * sky.whole) & (sky.beam > BEAM_LEFT * sky.whole)
    return lost, uncovered & (sky.residual < -LEAK_LEFT * sky.whole)


def _only(suspects: Suspects, wrong: Suspects) -> Suspects:
    """Where some component is known to be wrong, it alone is held to be."""
    told = np.logical_or.reduce(list(wrong.values()))
    return {q: np.where(told, wrong[q], mask) for q, mask in suspects.items()}


def _by_their_statistics(minutes: Minutes) -> Suspects:
    """Components whose minimum, maximum and deviation are frozen with the mean or contradict it."""
    out = {}
    for quantity in ("ghi", "dhi", "dni"):
        verdicts = stuck_value(minutes, quantity), spread_inconsistent(minutes, quantity)
        failed = [v[1] for v in verdicts if v is not None]
        out[quantity] = np.logical_or.reduce([np.zeros(minutes["time"].shape, bool), *failed])
    return out


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
    # neighbours in time: a component that alone left them is the wrong one
    out = _only(out, {q: verdict[1] for q, verdict in spiking(minutes).items()})
    return _only(out, _by_their_statistics(minutes))


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
    tested, failed = minutes.once("hourly", hourly_closure)
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
