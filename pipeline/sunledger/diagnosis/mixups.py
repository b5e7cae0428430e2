"""Certificates, channels and wires that were mixed up, named with the likely correct entry."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.selection import Components
from sunledger.diagnosis.separation import SINGLE, Cause, Pair, Verdict
from sunledger.diagnosis.subject import WORDS, Size, Subject, finding_about

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

LEAST_RATIO = 1.02
"""Sensitivities nearer to each other than this are not told apart. [1]"""
BRIGHT = 150.0
"""[W m-2]"""
FAR_OFF, CLOSED = 0.06, 0.05
"""Misfit of closure from which channels may be exchanged, and what exchanging must leave. [1]"""
LEAST_MINUTES = 300
"""Bright minutes that a gross mix-up needs."""


def swap_causes(in_use: Mapping[str, float]) -> tuple[Cause, ...]:
    """
    Exchanged sensitivities of two positions.

    Parameters
    ----------
    in_use : mapping
        Component → sensitivity with which it is computed. [uV W-1 m2]

    Returns
    -------
    causes : tuple of Cause
        One a pair whose sensitivities differ enough.
    """
    causes = []
    for a, b in combinations(sorted(in_use), 2):
        ratio = in_use[b] / in_use[a]
        if max(ratio, 1 / ratio) >= LEAST_RATIO:
            error = float(np.log(ratio))
            causes.append(Cause(f"swapped {a} {b}", {a: error, b: -error}, free=False))
    return tuple(causes)


def other_causes(
    in_use: Mapping[str, float], inventory: Mapping[str, tuple[str, float]]
) -> tuple[Cause, ...]:
    """
    A position computed with the sensitivity of an instrument that stands elsewhere.

    Parameters
    ----------
    in_use : mapping
        Component → sensitivity. [uV W-1 m2]
    inventory : mapping
        Certificate or serial number → component that such an instrument can measure, and its
        sensitivity. [uV W-1 m2]

    Returns
    -------
    causes : tuple of Cause
        One an entry that differs enough from the one in use.
    """
    causes = []
    for number, (component, sensitivity) in sorted(inventory.items()):
        ratio = sensitivity / in_use[component]
        if max(ratio, 1 / ratio) >= LEAST_RATIO:
            error = {component: float(np.log(ratio))}
            causes.append(Cause(f"another {component} {number}", error, free=False))
    return tuple(causes)


def all_causes(
    in_use: Mapping[str, float], inventory: Mapping[str, tuple[str, float]] | None = None
) -> tuple[Cause, ...]:
    """
    Single instruments and every mix-up that the inventory allows.

    Parameters
    ----------
    in_use : mapping
        Component → sensitivity. [uV W-1 m2]
    inventory : mapping or None
        As in :func:`other_causes`.

    Returns
    -------
    causes : tuple of Cause
        For :func:`sunledger.diagnosis.separation.judge`.
    """
    return SINGLE + swap_causes(in_use) + other_causes(in_use, inventory or {})


def certificate_mixup(subject: Subject, pair: Pair, verdict: Verdict) -> Finding | None:
    """
    Finding of a verdict that is a mix-up of certificates.

    Parameters
    ----------
    subject : Subject
        Whose.
    pair : Pair
        What was judged.
    verdict : Verdict
        With causes from :func:`all_causes`.

    Returns
    -------
    finding : Finding or None
        A size in percent that the mix-up makes in the first of the two; None for other verdicts.
        A change that one instrument alone would explain as well as another's certificate is named
        after the certificate only where it meets it closely.
    """
    names = [verdict.cause] if verdict.cause else _met_closely(verdict)
    if not (pair.enough and names):
        return None
    kind, component, other = [*names[0].split(" ", 2), "", ""][:3]
    if kind not in ("swapped", "another"):
        return None
    size = Size(100 * float(pair.value[0]), 200 * float(np.sqrt(pair.variance[0, 0])), "%")
    told = {"clear_percent": size.value, "dull_percent": 100 * float(pair.value[1])}
    told |= {"misfit": verdict.misfit, "clear_minutes": pair.minutes, "days": pair.days}
    effect = float(pair.value[0]) * subject.means.get("ghi", 0.0)
    if kind == "swapped":
        action = (
            f"exchange the certificates of {WORDS[component]} and {WORDS[other]}, or their serial"
            " numbers in the field log: closure is off by just the ratio of their sensitivities"
        )
        name, target = "certificates_swapped", f"{component} {other}"
    else:
        action = f"read the serial number on site: {other} would explain the {WORDS[component]}"
        name, target = "certificate_of_another", component
    return finding_about(
        subject, name, target, size, action, evidence=told, effect=effect, severity="act"
    )


def _met_closely(verdict: Verdict) -> list[str]:
    """The mix-up among candidates where only a free single instrument explains as much."""
    fixed = [name for name in verdict.candidates if " " in name]
    return fixed if len(fixed) == 1 and fixed[0].startswith("another") else []


def gross_mixups(
    subject: Subject, parts: Components, in_use: Mapping[str, float], inside: Mask | None = None
) -> tuple[Finding, ...]:
    """
    Reversed wires, powers of ten and exchanged channels.

    Parameters
    ----------
    subject : Subject
        Whose.
    parts : Components
        The month as computed.
    in_use : mapping
        Component → sensitivity. [uV W-1 m2]
    inside : numpy.ndarray of bool or None, shape (time,)
        Which minutes; None for all.

    Returns
    -------
    findings : tuple of Finding
        The first kind that explains the month; empty for a month without gross faults.
    """
    sun = parts.sun
    up = (sun.zenith < 75.0) & np.isfinite(parts.ghi + parts.dhi + parts.dni) & parts.usable
    up &= True if inside is None else inside
    if np.count_nonzero(up) < LEAST_MINUTES:
        return ()
    mu = parts.cosine[up]
    clear = parts.clear_sky[1][up]
    values = {"ghi": parts.ghi[up], "dhi": parts.dhi[up], "dni": parts.dni[up]}
    return (
        _reversed(subject, values)
        or _exchanged(subject, values, mu, in_use)
        or _powers(subject, values, mu, clear)
    )


def _reversed(subject: Subject, values: dict[str, Array]) -> tuple[Finding, ...]:
    found = []
    for name, value in values.items():
        low, high = np.quantile(value, [0.05, 0.95])
        if low < -50.0 and high < -0.1 * low:
            share = float((value < 0).mean())
            found.append(
                finding_about(
                    subject,
                    "polarity_reversed",
                    name,
                    Size(100 * share, 0.0, "%"),
                    f"the wires of the {WORDS[name]} radiometer are reversed: exchange them, and"
                    " enter the reversal in the field log",
                    evidence={"minutes": value.size, "lowest_5_percent": float(low)},
                    effect=2 * subject.means.get(name, 0.0),
                    severity="act",
                )
            )
    return tuple(found)


def _powers(
    subject: Subject, values: dict[str, Array], mu: Array, clear: Array
) -> tuple[Finding, ...]:
    """Global against a clear sky's, diffuse against global, direct against their difference."""
    found, right = [], dict(values)
    for name in WORDS:
        power = _power(name, right, mu, clear)
        if power:
            right[name] = right[name] / 10.0**power
            mean = subject.means.get(name, 0.0)
            found.append(
                finding_about(
                    subject,
                    "factor_of_ten",
                    name,
                    Size(float(power), 0.0, "power of ten"),
                    f"check unit and range of the {WORDS[name]} channel: divide by 1e{power}",
                    evidence={"minutes": mu.size},
                    effect=mean - mean / 10.0**power,
                    severity="act",
                )
            )
    return tuple(found)


def _power(name: str, values: dict[str, Array], mu: Array, clear: Array) -> int:
    if name == "ghi":
        ratio = float(np.quantile(values["ghi"] / clear, 0.98))
    elif name == "dhi":
        # somewhere in a month the sky is overcast, or nearly so: diffuse is then global
        ratio = float(np.quantile(values["dhi"] / np.maximum(values["ghi"], 20.0), 0.98))
    else:
        beam = (values["ghi"] - values["dhi"]) / mu
        bright = beam > BRIGHT
        if np.count_nonzero(bright) < LEAST_MINUTES:
            return 0
        ratio = float(np.median(values["dni"][bright] / beam[bright]))
    if ratio <= 0:
        return 0
    exact = float(np.log10(ratio))
    return round(exact) if abs(exact - round(exact)) < 0.25 else 0


def _exchanged(
    subject: Subject, values: dict[str, Array], mu: Array, in_use: Mapping[str, float]
) -> tuple[Finding, ...]:
    off = _openness(values, mu)
    if off < FAR_OFF:
        return ()
    tried = {}
    for a, b in combinations(WORDS, 2):
        other = dict(values)
        other[a], other[b] = values[b] * in_use[b] / in_use[a], values[a] * in_use[a] / in_use[b]
        tried[a, b] = _openness(other, mu)
    (a, b), left = min(tried.items(), key=lambda item: item[1])
    if left > min(CLOSED, off / 3):
        return ()
    return (
        finding_about(
            subject,
            "channels_exchanged",
            f"{a} {b}",
            Size(100 * off, 0.0, "%"),
            f"{WORDS[a]} and {WORDS[b]} are wired to each other's channel: exchange the cables, or"
            " the columns in the station's file from that day on",
            evidence={"minutes": mu.size, "left_after_exchange_percent": 100 * left},
            effect=subject.means.get(a, 0.0) - subject.means.get(b, 0.0),
            severity="act",
        ),
    )


def _openness(values: Mapping[str, Array], mu: Array) -> float:
    """Median misfit of closure where there is a beam, over the largest of both sides."""
    total = values["dhi"] + values["dni"] * mu
    largest = np.maximum(np.maximum(np.abs(total), np.abs(values["ghi"])), 1.0)
    bright = np.maximum(values["dni"], values["dhi"]) > BRIGHT
    if np.count_nonzero(bright) < LEAST_MINUTES:
        return 0.0
    return float(np.median((np.abs(values["ghi"] - total) / largest)[bright]))
