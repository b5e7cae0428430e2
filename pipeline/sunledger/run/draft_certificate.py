"""A compared campaign in words, and its draft certificate as YAML for a person to check."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from sunledger.config.models.instruments import DRAFT, Instrument, sensitivity_unit
from sunledger.run.campaigning import Compared
from sunledger.vocabulary import QUANTITIES

CARRIED = {
    "temperature_response": ("temperature_response", "temperature_polynomial"),
    "non_linearity": ("non_linearity",),
    "directional_response": ("directional_response",),
}
"""Correction → fields of the last certificate that hold on, since the signal went through them."""

INDENT = " " * 6


def campaign_lines(done: Compared) -> Iterator[str]:
    """
    What a campaign rests on and what it came to, in words.

    Parameters
    ----------
    done : Compared
        The campaign with its result.

    Yields
    ------
    line : str
        One statement each.
    """
    result, instrument = done.result, done.loaded.instrument
    unit = sensitivity_unit(instrument.kind)
    chosen = result.selected
    yield f"Comparison campaign of {instrument.serial_number}: {_method(done)}"
    yield f"{int(chosen.minutes.sum())} minutes count, in {_size(done)}; left out:"
    yield from (f"  {number} {reason}" for reason, number in chosen.left_out)
    yield (
        f"mean zenith angle {result.zenith:.1f} degrees, mean of the reference"
        f" {result.irradiance:.1f} {QUANTITIES[_quantity(done)].units}"
    )
    if not math.isnan(result.temperature):
        yield f"mean body temperature {result.temperature - 273.15:.1f} degC"
    yield "corrections of the signal: " + (", ".join(done.corrections).replace("_", " ") or "none")
    yield f"sensitivity {result.responsivity:.5g} {unit}, relative standard uncertainties:"
    for part in sorted(result.parts, key=lambda p: -p.standard):
        freedom = "" if math.isinf(part.degrees) else f", {part.degrees:g} degrees of freedom"
        name = part.name.replace("_", " ")
        yield f"  {100 * part.standard:.3f} % {name} ({part.source}{freedom})"
    yield (
        f"combined {100 * result.combined:.3f} %, expanded {100 * result.expanded:.2f} %"
        f" (k = {result.coverage_factor:.2f}, 95 %)"
    )
    before = done.loaded.before
    if before is not None:
        change = 100.0 * (result.responsivity / before.sensitivity.as_left - 1.0)
        yield f"{change:+.2f} % since {before.certificate} of {before.date}"
    yield (
        "The rules follow outdoor comparisons as remembered; no text of a standard was at hand."
        " Compare them with the standard before you rely on them."
    )


def draft_yaml(done: Compared) -> str:
    """
    Write the draft certificate as an entry of `instruments.yaml`.

    Parameters
    ----------
    done : Compared
        The campaign with its result.

    Returns
    -------
    text : str
        To be put under `calibrations` of the instrument once a person has checked it and given it
        a number: the loader refuses a draft.
    """
    lines = [f"{name}: {json.dumps(value)}" for name, value in draft(done).items()]
    first, rest = lines[0], lines[1:]
    return "\n".join([f"{INDENT}- {first}", *(f"{INDENT}  {line}" for line in rest)]) + "\n"


def draft(done: Compared) -> dict[str, Any]:
    """
    Fields of the draft certificate.

    Parameters
    ----------
    done : Compared
        The campaign with its result.

    Returns
    -------
    fields : dict
        As `instruments.yaml` has them.
    """
    result, instrument = done.result, done.loaded.instrument
    day = str(np.datetime64(int(result.selected.day.max()), "D"))
    found = float(f"{result.responsivity:.5g}")
    fields: dict[str, Any] = {
        "certificate": f"{DRAFT} {instrument.serial_number} {day}",
        "date": day,
        "sensitivity": {
            "as_found": found,
            "as_left": found,
            "unit": sensitivity_unit(instrument.kind),
        },
        # upwards, so that rounding never makes it look better
        "expanded_uncertainty": math.ceil(1e4 * result.expanded) / 100.0,
        "coverage_factor": round(result.coverage_factor, 2),
        "method": f"{_method(done)}, {_size(done)}",
        "reference_scale": _references(done)[0].reference_scale,
        "traceability": _traceability(done),
        "laboratory": done.loaded.campaign.laboratory,
        "reference_zenith": round(result.zenith, 1),
    }
    return fields | _responses(done)


def _size(done: Compared) -> str:
    chosen = done.result.selected
    return f"{chosen.responsivity.size} series on {np.unique(chosen.day).size} days"


def _quantity(done: Compared) -> str:
    return dict(done.period.positions)[done.loaded.campaign.position]


def _method(done: Compared) -> str:
    kind = done.loaded.instrument.kind
    if done.loaded.campaign.method == "component_sum":
        return "component sum of direct and shaded diffuse, after ISO 9846"
    if kind == "pyrheliometer":
        return "comparison with a reference pyrheliometer, after ISO 9059"
    if kind.endswith("pyranometer"):
        return "comparison outdoors with a reference pyranometer, after ISO 9847"
    return "comparison outdoors with a reference of the same quantity"


def _references(done: Compared) -> list[Any]:
    wanted = done.loaded.campaign.reference_positions()
    return [r for p in wanted for r in done.period.coefficients if r.position == p]


def _traceability(done: Compared) -> str:
    instruments: dict[str, Instrument] = done.loaded.config.inventory.by_serial()
    said = []
    for row in _references(done):
        certificates = instruments[row.serial_number].calibrations
        mine = next(c for c in certificates if c.certificate == row.certificate)
        said.append(
            f"{row.serial_number} by {mine.certificate} of {mine.date} ({mine.traceability})"
        )
    return "; ".join(dict.fromkeys(said))


def _responses(done: Compared) -> dict[str, Any]:
    """What goes with a sensitivity: its temperature, tables that hold on, the thermal offset."""
    before, steps = done.loaded.before, done.corrections
    fields: dict[str, Any] = {}
    if "temperature_response" in steps and before is not None:
        fields["reference_temperature"] = before.reference_temperature
    elif not math.isnan(done.result.temperature):
        fields["reference_temperature"] = round(done.result.temperature - 273.15, 1)
    if before is not None:
        held = before.model_dump(mode="json", exclude_none=True)
        wanted = [f for step in steps for f in CARRIED.get(step, ())]
        fields |= {f: held[f] for f in wanted if held.get(f)}
    if done.loaded.instrument.kind.endswith("pyranometer"):
        free = "thermal_offset" in steps
        fields["offset_in_responsivity"] = "removed" if free else "absorbed"
    return fields
