"""Position of the sun for a station-year of minutes beside the full algorithm.

Prints figures and asserts nothing:

    python tests/benchmarks/bench_sun.py
"""

from __future__ import annotations

import time

import numpy as np

from sunledger.physics.ephemeris import spa_module
from sunledger.physics.sun import solar_position

SITE = (46.8, 6.9, 491.0)
MINUTES = 525_600
START = 1924992000.0  # 2031-01-01
ROUNDS = 3


def seconds(of: object) -> float:
    """Least processor time of some rounds."""
    taken = []
    for _ in range(ROUNDS):
        begin = time.process_time()
        of()  # type: ignore[operator]
        taken.append(time.process_time() - begin)
    return min(taken)


def main() -> None:
    """Both ways, and how far apart they are."""
    times = START + 30.0 + 60.0 * np.arange(MINUTES)
    spa = spa_module()

    def full() -> tuple[np.ndarray, ...]:
        return spa.solar_position(times, *SITE, 1013.25, 12.0, 70.0, 0.5667)

    def ours() -> object:
        return solar_position(times, *SITE, delta_t=70.0)

    theirs, mine = full(), ours()
    z, a = np.radians(theirs[1]), np.radians(theirs[4])
    other, azimuth = np.radians(mine.zenith), np.radians(mine.azimuth)
    apart = np.sin((z - other) / 2) ** 2
    apart += np.sin(z) * np.sin(other) * np.sin((a - azimuth) / 2) ** 2
    print(f"largest distance {np.degrees(2 * np.arcsin(np.sqrt(apart.max()))):.1e} degree")
    slow, fast = seconds(full), seconds(ours)
    print(f"full algorithm {slow:.2f} s, ours {fast:.3f} s of processor time: {slow / fast:.0f} x")


if __name__ == "__main__":
    main()
