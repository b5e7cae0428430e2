"""How well night offsets are told in generated months whose offsets are known.

Prints figures and asserts nothing (`PYTHONPATH=pipeline:tests:sample_raw`):

    python tests/benchmarks/bench_nights.py [months, 100 by default]

True is the drawn offset a of the instrument at the class's net longwave, and its drawn offset b at
5 K in an hour. The net longwave is what the station's pyrgeometer measures, with its own errors of
sensitivity, zero and temperature; the zero of cable and input, one microvolt and less, stands in
what the nights read.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from generated_month import generated, measured_net
from northmere.draws import draw
from northmere.light import placements_of
from northmere.scenario import SCENARIOS
from sunledger.diagnosis.beside import temperature_rate
from sunledger.diagnosis.night import NightOffset, Surroundings, beyond_class, night_offset
from sunledger.diagnosis.night_fit import AT_NET, AT_RATE
from sunledger.diagnosis.selection import solar_day
from sunledger.diagnosis.subject import Subject
from sunledger.physics.iso9060 import PYRANOMETER_CLASSES

DAY = 86400
FIRST_SEED = 9000
PYRGEOMETER = 3.0
"""Expanded uncertainty of the pyrgeometers' certificates. [%]"""


@dataclass(frozen=True)
class Trial:
    """One instrument and month: what was told, what is true, what its class allows."""

    told: NightOffset
    at_class: float
    at_rate: float
    limit: float

    @property
    def said(self) -> bool:
        """Whether it was called beyond its class."""
        return beyond_class(Subject("osr", "2031-08"), self.told, self.limit) is not None


def trials(count: int) -> Iterator[Trial]:
    """All instruments of so many months."""
    for number in range(count):
        station, seed = ("osr", "kpn")[number % 2], FIRST_SEED + number
        scenario, start = SCENARIOS[station], f"2031-{6 + number // 2 % 6:02}-01"
        parts, scene = generated(station, seed, start, 28)
        night = solar_day(parts.middle - DAY // 2, parts.longitude)
        net, rate = measured_net(station, seed, scene), temperature_rate(scene.body, 60)
        for name in ("ghi", "dhi"):
            serial = placements_of(scenario, name)[-1].serial
            unit, of = scenario.instrument(serial), draw(scenario, seed).of
            known = PYRGEOMETER / 100.0, unit.certificates[-1].uncertainty / 100.0
            around = Surroundings(net, rate, *known)
            told = night_offset(name, getattr(parts, name), parts.sun.zenith, night, around)
            if told is not None and np.isfinite(told.at_class):
                limit = PYRANOMETER_CLASSES[unit.iso_class or "C"].zero_offset_a
                true = of(serial, "thermal_offset"), of(serial, "transient_offset")
                yield Trial(told, AT_NET * true[0], AT_RATE * true[1], limit)


def report(words: str, error: np.ndarray, half: np.ndarray) -> None:
    """How far off, and how honest the interval."""
    print(
        f"{words}: error {error.mean():+.3f}, standard deviation {error.std():.3f} W m-2,", end=""
    )
    print(
        f" largest {np.abs(error).max():.2f}; half-width: median {np.median(half):.3f} W m-2,",
        end="",
    )
    print(f" holds the truth in {np.mean(np.abs(error) <= half):.1%} of {error.size}")


def main() -> None:
    """All months."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    begin = time.process_time()
    every = list(trials(count))
    told = [t.told for t in every]
    wide = np.array([[t.at_class_half_width, t.at_rate_half_width] for t in told])
    wrong = np.array([[t.told.at_class - t.at_class, t.told.at_rate - t.at_rate] for t in every])
    report(f"offset a at a net longwave of {AT_NET:.0f} W m-2", wrong[:, 0], wide[:, 0])
    report(f"offset b at {AT_RATE:.0f} K an hour", wrong[:, 1], wide[:, 1])
    beyond = sum(abs(t.at_class) > t.limit for t in every)
    false = sum(t.said and abs(t.at_class) <= t.limit for t in every)
    print(f"called beyond the class though within: {false}; truly beyond: {beyond}")
    print(f"{time.process_time() - begin:.0f} s of processor time")


if __name__ == "__main__":
    main()
