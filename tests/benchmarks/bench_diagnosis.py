"""What diagnosis finds in generated months with known truth and independent clouds.

Run: ``python tests/benchmarks/bench_diagnosis.py [months]`` with
``PYTHONPATH=pipeline:tests:sample_raw``. Every month has its own weather and its own drawn
instruments, and is made with nothing wrong, with a sensitivity error of 2 % of one instrument in
its second half, with two certificates exchanged there, and with a loss of 2 % of one instrument
ended by a cleaning in its middle. The sensitivity error is looked for twice: at the instant of an
exchange that the record tells, and (*unnoted*) at an instant that nobody noted, among leans and
clocks as well. Instruments and signs take turns. A finding counts only by its
own name and target; months with too little clear sky on either side are counted apart, as not
enough evidence.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import replace

import numpy as np

from generated_month import COMPONENTS, generated_month
from northmere.scenario import SCENARIOS
from recorded_month import recorded
from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.mixups import all_causes, certificate_mixup, gross_mixups
from sunledger.diagnosis.obstacles import below_profile, returning_shadows, sun_path
from sunledger.diagnosis.pointing import local_failures, lost_days
from sunledger.diagnosis.ratios import Ratios, sky_ratios
from sunledger.diagnosis.responsivity import against_certificates, changed_sensitivity
from sunledger.diagnosis.sectors import sector_departures
from sunledger.diagnosis.selection import Components
from sunledger.diagnosis.separation import change_between
from sunledger.diagnosis.soiling import cleaning_step, soiling_drift
from sunledger.diagnosis.steps import steps
from sunledger.diagnosis.subject import Subject, subject_of

Sides = tuple[tuple[Ratios, Ratios], tuple[Ratios, Ratios]]
SENSITIVITIES = {
    "osr": {"ghi": 9.27, "dhi": 9.04, "dni": 7.88},
    "kpn": {"ghi": 11.85, "dhi": 12.31, "dni": 8.21},
}
UNCERTAINTIES = {
    "osr": {"ghi": 0.012, "dhi": 0.012, "dni": 0.008},
    "kpn": {"ghi": 0.018, "dhi": 0.016, "dni": 0.009},
}
PAIRS = (("ghi", "dhi"), ("ghi", "dni"), ("dhi", "dni"))
ERROR, SWAP = 0.02, 1.05
FIRST_SEED = 5000


def scaled(parts: Components, where: np.ndarray, factors: dict[str, float]) -> Components:
    """The month with some components multiplied for a time."""
    changed = {
        n: np.where(where, getattr(parts, n) * f, getattr(parts, n)) for n, f in factors.items()
    }
    return replace(parts, **changed)


def sides_of(parts: Components, cut: float) -> Sides:
    """Ratios before and after an instant."""
    clear, dull = sky_ratios(parts)
    before = clear.where(clear.middle < cut), dull.where(dull.middle < cut)
    return before, (clear.where(clear.middle >= cut), dull.where(dull.middle >= cut))


def month(number: int) -> tuple[str, Components, Subject]:
    """A generated month: stations and seasons take turns."""
    station = ("osr", "kpn")[number % 2]
    start = (
        f"2031-{6 + number // 2 % 6:02}-01"
        if station == "osr"
        else f"2031-{1 + number // 2 % 12:02}-01"
    )
    parts = generated_month(station, FIRST_SEED + number, start)
    return station, parts, subject_of(parts, station, start[:7])


def false_findings(station: str, parts: Components, subject: Subject, cut: float) -> list[Finding]:
    """Everything that is said about a month without a fault."""
    before, later = sides_of(parts, cut)
    whole = sky_ratios(parts)
    causes = all_causes(SENSITIVITIES[station])
    pair, verdict, changed = changed_sensitivity(subject, before, later, causes)
    own, opinion, off = against_certificates(subject, whole, UNCERTAINTIES[station], causes)
    path = sun_path(parts)
    known = below_profile(path, SCENARIOS[station].horizon)
    found = [
        changed,
        off,
        certificate_mixup(subject, pair, verdict),
        certificate_mixup(subject, own, opinion),
        cleaning_step(subject, before, later)[2],
        soiling_drift(subject, [whole], float(parts.middle[0]), parts.longitude)[2],
        *lost_days(subject, parts),
        *local_failures(subject, sector_departures(whole[0])),
        *gross_mixups(subject, parts, SENSITIVITIES[station]),
        *returning_shadows(subject, path, known, parts.middle.size),
        *steps(recorded(parts))[0],
    ]
    return [f for f in found if f]


def one_error(number: int, station: str, parts: Components, subject: Subject, cut: float) -> str:
    """Whether a sensitivity error is found and laid to the right instrument."""
    name, sign = COMPONENTS[number % 3], 1 if number // 3 % 2 else -1
    wrong = scaled(parts, parts.middle >= cut, {name: 1.0 + sign * ERROR})
    before, later = sides_of(wrong, cut)
    causes = all_causes(SENSITIVITIES[station])
    found = changed_sensitivity(subject, before, later, causes)[2]
    return _named(found, "sensitivity_changed", name)


def one_swap(number: int, station: str, parts: Components, subject: Subject, cut: float) -> str:
    """Whether exchanged certificates are named."""
    first, second = PAIRS[number % 3]
    ratio = SWAP if number // 3 % 2 else 1 / SWAP
    in_use = SENSITIVITIES[station] | {second: SENSITIVITIES[station][first] * ratio}
    wrong = scaled(parts, parts.middle >= cut, {first: ratio, second: 1 / ratio})
    before, later = sides_of(wrong, cut)
    pair, verdict, other = changed_sensitivity(subject, before, later, all_causes(in_use))
    found = certificate_mixup(subject, pair, verdict) or other
    return _named(found, "certificates_swapped", " ".join(sorted((first, second))))


def one_cleaning(number: int, parts: Components, subject: Subject, cut: float) -> str:
    """Whether the step at a cleaning is found and laid to the right instrument."""
    name = COMPONENTS[number % 3]
    wrong = scaled(parts, parts.middle < cut, {name: 1.0 - ERROR})
    before, later = sides_of(wrong, cut)
    found = cleaning_step(subject, before, later)[2]
    return _named(found, "cleaning_step", name)


def one_unnoted(number: int, parts: Components, cut: float) -> str:
    """Whether the same error is found where nobody noted when it began."""
    name, sign = COMPONENTS[number % 3], 1 if number // 3 % 2 else -1
    wrong = scaled(parts, parts.middle >= cut, {name: 1.0 + sign * ERROR})
    found = steps(recorded(wrong))[0]
    return _named(found[0] if found else None, "sensitivity_changed", name)


def _named(found: Finding | None, name: str, target: str) -> str:
    if found is None:
        return "nothing said"
    return "found" if (found.name, found.target) == (name, target) else f"said {found.name}"


def score(months: int) -> Counter[tuple[str, str]]:
    """Count what is said of so many months."""
    told: Counter[tuple[str, str]] = Counter()
    for number in range(months):
        station, parts, subject = month(number)
        cut = float(parts.middle[0]) + 15 * 86400
        found = false_findings(station, parts, subject, cut)
        told["clean", "months"] += 1
        told.update(("clean", f"said {f.name}") for f in found)
        if not change_between(*sides_of(parts, cut)).enough:
            told["faults", "not enough evidence"] += 1
            continue
        told["sensitivity", one_error(number, station, parts, subject, cut)] += 1
        told["unnoted", one_unnoted(number, parts, cut)] += 1
        told["swap", one_swap(number, station, parts, subject, cut)] += 1
        told["cleaning", one_cleaning(number, parts, subject, cut)] += 1
    return told


def main(months: int) -> None:
    """Print the table."""
    told = score(months)
    for (kind, what), count in sorted(told.items()):
        whole = sum(
            n for (k, w), n in told.items() if k == kind and (kind != "clean" or w == "months")
        )
        print(f"{kind:12} {what:32} {count:5} {100 * count / whole:6.1f} %")


def test_each_kind_of_fault_is_named_in_a_month_of_plain_weather() -> None:
    """One month of the benchmark."""
    told = score(1)
    kinds = {kind for kind, what in told if what == "found"}
    assert kinds == {"sensitivity", "unnoted", "swap", "cleaning"}


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
