"""How well night offsets are told in generated months whose offsets are known.

Prints figures and asserts nothing (`PYTHONPATH=pipeline:tests:sample_raw`):

    python tests/benchmarks/bench_nights.py [months, 100 by default]

True is what the drawn offsets a and b of the instrument give at the class's net longwave: in
proportion to the net, the cooling of the body is not told apart from it. The zero of cable and
input, half a microvolt and less, is an error here, as it is at a station.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from generated_month import generated
from northmere.draws import draw
from northmere.light import SIGMA, placements_of
from northmere.scenario import SCENARIOS
from sunledger.diagnosis.night import AT_NET, LEAST_NET, beyond_class, night_offset
from sunledger.diagnosis.selection import solar_day
from sunledger.diagnosis.subject import Subject
from sunledger.physics.iso9060 import PYRANOMETER_CLASSES

DAY = 86400


def months(count: int) -> list[tuple[float, float, bool, bool]]:
    """Error and half-width of each offset, whether it was called beyond, and whether it is."""
    rows = []
    for number in range(count):
        station = ("osr", "kpn")[number % 2]
        start = f"2031-{6 + number // 2 % 6:02}-01"
        parts, scene = generated(station, 9000 + number, start, 28)
        net = scene.truth["lwd"] - SIGMA * scene.body**4
        night = solar_day(parts.middle - DAY // 2, parts.longitude)
        cooling = np.gradient(scene.body, 60.0) * 3600.0
        dark = (parts.sun.zenith > 100.0) & (net < -LEAST_NET)
        for name in ("ghi", "dhi"):
            serial = placements_of(SCENARIOS[station], name)[-1].serial
            of = draw(SCENARIOS[station], 9000 + number).of
            added = of(serial, "thermal_offset") * net + of(serial, "transient_offset") * cooling
            told = night_offset(name, getattr(parts, name), parts.sun.zenith, night, net)
            if told is None or not np.isfinite(told.at_class) or not dark.any():
                continue
            true = AT_NET * float(np.median((added / net)[dark]))
            unit = SCENARIOS[station].instrument(serial)
            limit = PYRANOMETER_CLASSES[unit.iso_class or "C"].zero_offset_a
            said = beyond_class(Subject(station, start[:7]), told, limit) is not None
            error = told.at_class - true
            rows.append((error, told.at_class_half_width, said, abs(true) > limit))
    return rows


def main() -> None:
    """All months."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    begin = time.process_time()
    rows = months(count)
    error, half = (np.array([row[at] for row in rows]) for at in (0, 1))
    print(f"{len(rows)} offsets of {count} months at a net longwave of {AT_NET:.0f} W m-2")
    print(f"error: mean {error.mean():+.2f}, standard deviation {error.std():.2f} W m-2,", end="")
    print(f" within 1 W m-2 {np.mean(np.abs(error) < 1.0):.1%}")
    print(f"half-width: median {np.median(half):.2f} W m-2; holds the truth in", end="")
    print(f" {np.mean(np.abs(error) <= half):.1%}")
    wrong = sum(said and not beyond for _, _, said, beyond in rows)
    print(
        f"called beyond the class though within: {wrong}; truly beyond: {sum(r[3] for r in rows)}"
    )
    print(f"{time.process_time() - begin:.0f} s of processor time")


if __name__ == "__main__":
    main()
