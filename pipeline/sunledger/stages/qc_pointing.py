"""Tests of pointing: tracker, pyrheliometer, shade, and what stands before the window."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sunledger.physics.runs import run_length
from sunledger.physics.windows import grown, rolling_any, rolling_count
from sunledger.stages.qc_blame import blamed, lost_direct
from sunledger.stages.qc_sky import LIT_SHARE, Sky
from sunledger.stages.qc_view import Minutes, limit_of, limit_values
from sunledger.vocabulary import CONDITIONS

Mask = npt.NDArray[np.bool_]
Verdict = tuple[Mask, Mask]

REACH = 5 * 3600
"""Twice the longest window, the longest fading after it, and the windows of the blame; then the
window of the test that asks where the tracker was off. [s]"""
FADING_RESIDUAL = 0.02
"""Share of the global by which closure has to fail while the sun leaves. [1]"""
DUSK = 87.0
"""A tracker found off the sun is followed as far as this zenith angle. [degree]"""
LOST_RUN = 4
"""Minutes in a row in which a lost direct needs no further proof; fewer make a spike."""
BACK_WITHIN = 30
"""Longest time after a homing in which a beam that is not there is laid to it. [min]"""
LASTING = 30
"""What is proven stays so for minutes that show the same within this time of the proof. [min]"""


def _told_off(minutes: Minutes) -> Verdict | None:
    """Where the tracker itself says that it is off, and where it says anything."""
    words: dict[int, str] = minutes.ds.attrs.get("tracker_words", {})
    if not words or not minutes.has("tracker_mode"):
        return None
    mode = minutes["tracker_mode"]
    lost = np.isin(mode, [code for code, word in words.items() if word in ("off", "fault")])
    tested = ~np.isnan(mode) & (minutes["solar_zenith_angle"] < 90.0)
    return tested, tested & lost


def _more_than_sky(minutes: Minutes) -> Mask:
    """Where the diffuse is more than a sky gives: the published extremely rare maximum."""
    limit = limit_of(minutes, "dhi", "rare")
    assert limit is not None
    return np.asarray(minutes["dhi"] > limit_values(minutes, "dhi", limit)[1])


def _inferred_off(minutes: Minutes) -> Verdict:
    """Where the direct is lost although the diffuse shows that the sun shines."""
    sky, settings = minutes.whole_sky, minutes.settings.tracker
    half = sky.steps(settings.window)
    up = sky.known & (sky.zenith < DUSK)
    tested = up & (sky.zenith < settings.largest_zenith)
    dark = up & (sky.direct < settings.dark_share * sky.clear_direct)
    change = np.abs(np.diff(sky.diffuse, prepend=np.nan, append=np.nan))
    step = np.fmax(change[1:], change[:-1]) > settings.least_step * sky.clear_global
    shines = dark & tested & (step | (sky.diffuse > settings.bright_share * sky.clear_global))
    width = 2 * half + 1
    # the window of a fault at dusk or dawn ends with the light
    lit = rolling_count(up, half)
    core = (rolling_count(dark, half) >= settings.least_dark * lit) & (lit > half)
    core &= (rolling_count(shines, half) >= settings.least_bright * width) | (
        rolling_count(_more_than_sky(minutes) & dark & tested, half) >= settings.least_rare
    )
    seed = rolling_any(core, half) & dark
    open_ = np.abs(sky.residual) > FADING_RESIDUAL * sky.whole
    fading = up & (dark | (rolling_any(open_, 1) & (sky.direct < 0.97 * sky.clear_direct)))
    return up, grown(seed, fading, sky.steps(settings.fading))


def _tracker(minutes: Minutes) -> Verdict | None:
    told = _told_off(minutes)
    if minutes.sky_or_none is None:
        return told
    tested, off = _inferred_off(minutes)
    return (tested, off) if told is None else (tested | told[0], off | told[1])


def tracker_off_sun(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Say where the tracker is off the sun: by its own word, or because only the direct is lost.

    Parameters
    ----------
    minutes : Minutes
        The minutes; the mode's meanings stand in the attribute ``tracker_words``.
    quantity : str
        ``dni`` or ``dhi``: the verdict is the same for both.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        None without a tracker mode where a component is missing too.

    Notes
    -----
    The word "tracking" is not believed: a drive may turn without load. While direct stays below
    5 % of the clear sky's, a diffuse near the clear sky's global, or one that jumps with the
    clouds, is the sun's own light on an unshaded dome.
    """
    return minutes.once("tracker", _tracker)


def _homing(minutes: Minutes) -> Mask:
    """Minutes of homing, by the tracker's own word or the field log."""
    out = np.zeros(minutes.ds.sizes["time"], bool)
    words: dict[int, str] = minutes.ds.attrs.get("tracker_words", {})
    if words and minutes.has("tracker_mode"):
        out |= np.isin(
            minutes["tracker_mode"], [c for c, word in words.items() if word == "homing"]
        )
    if minutes.has("dni_conditions"):
        recorded = minutes["dni_conditions"].astype(np.int32)
        out |= (recorded & CONDITIONS["tracker_homing"].mask) != 0
    return out


def not_yet_back(minutes: Minutes) -> Mask:
    """
    Say where the tracker homes, and until when the beam is not yet back.

    Parameters
    ----------
    minutes : Minutes
        The minutes.

    Returns
    -------
    homing : numpy.ndarray of bool, shape (time,)
        Minutes of homing and those that follow without a gap, for at most `BACK_WITHIN`, while
        the direct is still lost: by the other two components, or by a tracker off the sun.
    """
    homing = _homing(minutes)
    if not homing.any() or minutes.sky_or_none is None:
        return homing
    sky = minutes.whole_sky
    away = lost_direct(sky, minutes.settings.pointing)[1]
    off = minutes.once("tracker", _tracker)
    away |= False if off is None else off[1]
    out = homing.copy()
    for _ in range(sky.steps(BACK_WITHIN)):
        out[1:] |= out[:-1] & away[1:]
    return out


def _lost(minutes: Minutes) -> Verdict | None:
    if minutes.sky_or_none is None:
        return None
    sky, settings = minutes.whole_sky, minutes.settings.pointing
    tested = sky.known & (sky.zenith < settings.largest_zenith)
    asked, lost = (tested & mask for mask in lost_direct(sky, settings))
    half = sky.steps(settings.window)
    often = rolling_count(lost, half) >= settings.least_share * rolling_count(asked, half)
    confirmed = (often & (rolling_count(lost, half) >= LOST_RUN)) | (run_length(lost) >= LOST_RUN)
    off = minutes.once("tracker", _tracker)
    failed = lost & rolling_any(lost & confirmed, sky.steps(LASTING))
    return tested, failed & ~off[1] if off is not None else failed


def pyrheliometer_off_sun(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Say where the direct is lost while global less diffuse shows that the sun shines.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        ``dni``.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        None where a component is not measured. A single minute at the edge of a cloud is not
        enough.
    """
    return minutes.once("lost", _lost)


def _often(sky: Sky, mask: Mask, asked: Mask, window: int, share: float) -> Mask:
    half = sky.steps(window)
    return np.asarray(
        mask
        & (rolling_count(mask, half) >= share * rolling_count(asked, half))
        & (rolling_count(mask, half) > half // 2)
    )


def _beam_share(minutes: Minutes, sign: float, wrong: str) -> Verdict | None:
    """Where closure misses a share of the beam, and that component is held to be wrong."""
    if minutes.sky_or_none is None:
        return None
    sky, settings = minutes.whole_sky, minutes.settings.pointing
    tested = sky.known & (sky.zenith < settings.largest_zenith)
    # the beam that arrives: what the direct says, or what the other two ask for
    shining = sky.beam if wrong == "dhi" else sky.whole - sky.diffuse
    asked = tested & (shining > LIT_SHARE * sky.clear_direct * sky.cosine)
    share = sign * sky.residual > settings.least_loss * shining
    guilty = minutes.once("blame", blamed)
    alone = guilty[wrong] & ~np.logical_or.reduce([m for q, m in guilty.items() if q != wrong])
    same = asked & share & (sky.whole > 0)
    for other in ("tracker", "lost"):
        taken = minutes.once(other, _tracker if other == "tracker" else _lost)
        same &= True if taken is None else ~taken[1]
    candidate = same & alone
    proven = _often(sky, candidate, asked, settings.window, settings.least_share)
    return tested, proven | (same & rolling_any(proven, sky.steps(LASTING)))


def shade_misaligned(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Say where a share of the beam reaches the shaded dome.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        ``dhi``.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        None where a component is not measured.
    """
    return _beam_share(minutes, -1.0, "dhi")


def beam_obstructed(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Say where a share of the beam is missing from the direct.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        ``dni``.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        None where a component is not measured.
    """
    return _beam_share(minutes, 1.0, "dni")
