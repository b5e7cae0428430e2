"""What is kept of the sun is what is computed, whoever asked before."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from sunledger.physics import kept_sun
from sunledger.physics.kept_sun import kept_solar_position
from sunledger.physics.sun import SolarPosition, solar_position

SITE = (46.9, 10.2, 2000.0)
TIMES = 1.93e9 + 60.0 * np.arange(4000)
NAMES = ("zenith", "apparent_zenith", "azimuth", "distance")


@pytest.fixture(autouse=True)
def _nothing_kept() -> Iterator[None]:
    kept_sun._KEPT.clear()
    yield
    kept_sun._KEPT.clear()


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many instants were computed, call by call."""
    sizes: list[int] = []

    def counted(times: np.ndarray, *site: float) -> SolarPosition:
        sizes.append(times.size)
        return solar_position(times, *site)

    monkeypatch.setattr(kept_sun, "solar_position", counted)
    return sizes


def assert_same(found: SolarPosition, times: np.ndarray, site: tuple[float, float, float]) -> None:
    expected = solar_position(times, *site)
    for name in NAMES:
        np.testing.assert_array_equal(getattr(found, name), getattr(expected, name))


def test_a_part_of_known_instants_is_not_computed_again(asked: list[int]) -> None:
    """To the last bit, for the whole, a part within, and either end."""
    for part in (slice(None), slice(None), slice(1440, 2880), slice(0, 7), slice(3990, None)):
        assert_same(kept_solar_position(TIMES[part], *SITE), TIMES[part], SITE)
    assert asked == [4000]


@pytest.mark.parametrize(
    ("times", "site"),
    [
        (TIMES[1440:2880] + 1e-3, SITE),
        (TIMES[2:200:2], SITE),
        (TIMES[3990:] + 60.0, SITE),
        (TIMES[:50] - 60.0, SITE),
        (TIMES[::-1], SITE),
        (TIMES, (46.9, 10.2001, 2000.0)),
        (TIMES, (46.9, 10.2, 2001.0)),
        (TIMES[:0], SITE),
    ],
    ids=["drift", "every second", "beyond", "before", "backwards", "east", "height", "none"],
)
def test_other_instants_and_sites_are_computed(
    times: np.ndarray, site: tuple[float, float, float], asked: list[int]
) -> None:
    kept_solar_position(TIMES, *SITE)
    assert_same(kept_solar_position(times, *site), times, site)
    assert asked == [4000, times.size]


def test_what_a_caller_does_to_its_arrays_changes_nothing_that_is_kept() -> None:
    times = TIMES.copy()
    for _ in range(2):
        found = kept_solar_position(times, *SITE)
        for name in NAMES:
            getattr(found, name)[:] = -1.0
    times[:] = 0.0
    assert_same(kept_solar_position(TIMES, *SITE), TIMES, SITE)


def test_only_a_few_are_kept() -> None:
    """An archive of years leaves no more in memory than two months."""
    for number in range(5):
        kept_solar_position(TIMES + number * 1e6, *SITE)
    assert len(kept_sun._KEPT) == 2


def test_coordinates_that_no_place_has_are_refused() -> None:
    with pytest.raises(ValueError, match="latitude must lie between"):
        kept_solar_position(TIMES, 91.0, 0.0, 0.0)
    assert not kept_sun._KEPT
