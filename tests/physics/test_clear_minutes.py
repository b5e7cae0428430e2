"""Clear minutes: by hand, by cutting, and against an independent detection on the real month."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pvlib
import pytest

import real_month
from sunledger.physics.clear_minutes import clear_minutes
from sunledger.physics.sun import cosine_zenith, extraterrestrial_normal

NAN = np.nan


def noon(**changes):
    """Forty minutes with the sun at a cosine of 0.8: global 1100 x 0.8^1.2, diffuse 100."""
    parts = {
        "global_": np.full(40, 1100.0 * 0.8**1.2),
        "diffuse": np.full(40, 100.0),
        "cosine": np.full(40, 0.8),
        "extraterrestrial": np.full(40, 1361.0 * 0.8),
    }
    return clear_minutes(**(parts | changes))


def with_one(value, place=20, size=40, rest=0.0):
    """A series of one value but for one."""
    out = np.full(size, rest)
    out[place] = value
    return out


def test_a_clear_noon():
    """All but the ends, of which the window is not known."""
    clear, told = noon()
    assert clear.tolist() == [False] * 6 + [True] * 29 + [False] * 5
    assert told.tolist() == [False] * 5 + [True] * 30 + [False] * 5


@pytest.mark.parametrize(
    ("part", "value"),
    [
        ("diffuse", 150.0 * np.sqrt(0.8) + 0.01),
        ("global_", 999.0 * 0.8**1.2),
        ("global_", 1251.0 * 0.8**1.2),
        ("global_", 1100.0 * 0.8**1.2 + 1.605),
    ],
)
def test_one_minute_spoils_its_window(part, value):
    """Too much diffuse, too little or too much global, or a change of more than 1.6 W m-2."""
    base = 100.0 if part == "diffuse" else 1100.0 * 0.8**1.2
    clear, told = noon(**{part: with_one(value, rest=base)})
    assert not clear[15:26].any()
    assert clear[14]
    assert told[15:26].all()


def test_a_change_within_the_noise_is_put_up_with():
    """Two watts with the sun overhead: 1.6 W m-2 here."""
    base = 1100.0 * 0.8**1.2
    clear, _ = noon(global_=with_one(base + 1.595, rest=base))
    assert clear[6:35].all()


@pytest.mark.parametrize(("zenith", "stands"), [(78.4, False), (78.6, True)])
def test_the_second_limit_begins_at_78_5_degree(zenith, stands):
    """A normalised global of 950 is clear with the low sun alone."""
    mu = np.cos(np.radians(zenith))
    clear, _ = noon(
        global_=np.full(40, 950.0 * mu**1.2),
        diffuse=np.full(40, 20.0),
        cosine=np.full(40, mu),
        extraterrestrial=np.full(40, 1361.0 * mu),
    )
    assert clear[10:30].all() == stands


@pytest.mark.parametrize(
    ("mu", "level", "stands"),
    [
        *((0.3, 1001.0, True), (0.3, 999.0, False), (0.3, 1249.0, True), (0.3, 1251.0, False)),
        *((0.15, 901.0, True), (0.15, 899.0, False)),
    ],
)
def test_limits_of_the_normalised_global(mu, level, stands):
    """1000 to 1250, from 900 with the sun below 78.5 degree; a steady series, so nothing else."""
    clear, told = noon(
        global_=np.full(40, level * mu**1.2),
        diffuse=np.full(40, 20.0),
        cosine=np.full(40, mu),
        extraterrestrial=np.full(40, 1361.0 * mu),
    )
    assert told[10:30].all()
    assert clear[10:30].all() == stands
    assert clear[10:30].any() == stands


def test_a_gap_is_not_told():
    """Neither clear nor cloudy within its window."""
    clear, told = noon(diffuse=with_one(NAN, rest=100.0))
    assert not told[15:26].any()
    assert not clear[15:26].any()
    assert told[14]
    assert told[26]


def test_low_sun_is_not_told():
    """Below 85 degree nothing is said."""
    clear, told = noon(cosine=np.full(40, 0.08))
    assert not clear.any()
    assert not told.any()


def published():
    """The real month with its sun."""
    table = real_month.published()
    seconds = (table.index - pd.Timestamp("1970-01-01")).total_seconds().to_numpy() + 30.0
    mu, distance = cosine_zenith(seconds, 46.815, 6.944, 491.0)
    mu = mu.clip(min=0.0)
    return table, mu, extraterrestrial_normal(distance) * mu


@pytest.mark.filterwarnings("ignore::FutureWarning", "ignore::DeprecationWarning")
def test_the_real_month_against_another_method():
    """Most minutes found clear are so by Reno and Hansen (2016) as well, by far more than chance.

    Their method fits a clear sky to the data; its implementation is that of pvlib. Measured when
    this was written: 88 % of ours are clear by theirs as well.
    """
    table, mu, outside = published()
    clear, told = clear_minutes(table["ghi"], table["dhi"], mu, outside)
    zenith = pd.Series(np.degrees(np.arccos(mu)), table.index)
    model = pvlib.clearsky.haurwitz(zenith)["ghi"]
    ghi = table["ghi"].fillna(0.0)
    other = pvlib.clearsky.detect_clearsky(ghi, model, infer_limits=True).to_numpy()
    assert clear.sum() > 300
    assert other[clear].mean() > 0.85
    assert other[clear].mean() > 3.0 * other[told].mean()
    assert clear[told].mean() < 0.5


def test_the_cut_leaves_no_trace():
    """Beyond the reach of the window."""
    table, mu, outside = published()
    whole = clear_minutes(table["ghi"], table["dhi"], mu, outside)
    part = slice(10000, 14000)
    ghi, dhi = table["ghi"].to_numpy()[part], table["dhi"].to_numpy()[part]
    cut = clear_minutes(ghi, dhi, mu[part], outside[part])
    for one, other in zip(whole, cut, strict=True):
        np.testing.assert_array_equal(one[part][6:-5], other[6:-5])
