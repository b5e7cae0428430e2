"""Loading a comparison campaign: all faults of the file, and of how it fits the record, at once."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from sunledger.config.coefficients import Coefficients, coefficient_rows
from sunledger.config.ledger import check_station
from sunledger.config.loading import LoadedWorkflow, StationConfig, checked_model, load_workflow
from sunledger.config.messages import not_among
from sunledger.config.models.base import parse_utc
from sunledger.config.models.campaign import Campaign
from sunledger.config.models.instruments import Calibration, Instrument, sensitivity_unit
from sunledger.config.models.processing import Processing
from sunledger.config.record import DeploymentPeriod, deployment_periods
from sunledger.config.yaml_text import ParsedText, parse_file
from sunledger.errors import ConfigError, Fault
from sunledger.physics.iso9060 import SENSITIVITY_RANGES
from sunledger.vocabulary import LONGWAVE

DAY = 86400
TRIAL = "trial"
"""Name of the certificate that an instrument without one is given while it is compared."""


@dataclass(frozen=True)
class LoadedCampaign:
    """
    A campaign with everything it names.

    Parameters
    ----------
    campaign : Campaign
        The file.
    config : StationConfig
        The station, as it is recorded.
    processing : Processing
        Settings of the stages.
    raw, archive : Path
        Folders of the run plan.
    instrument : Instrument
        The one to be calibrated.
    before : Calibration or None
        Its last certificate before the campaign, unless a break came between.
    """

    campaign: Campaign
    config: StationConfig
    processing: Processing
    raw: Path
    archive: Path
    instrument: Instrument
    before: Calibration | None


def load_campaign(path: str | Path) -> LoadedCampaign:
    """
    A campaign with everything it names; no data file is opened.

    Parameters
    ----------
    path : str or Path
        The campaign's file.

    Returns
    -------
    loaded : LoadedCampaign
        Fit to be computed.

    Raises
    ------
    ConfigError
        With every fault of the campaign and of the files it names.
    """
    path, faults = Path(path), list[Fault]()
    parsed = parse_file(path)
    campaign = checked_model(parsed, Campaign, faults)
    workflow = _workflow(path, parsed, faults)
    if campaign is None or workflow is None:
        raise ConfigError(faults)
    stations = {s.station.id: s for s in workflow.stations}
    config = stations.get(campaign.station)
    if config is None:
        why = f"no such station; {not_among(campaign.station, stations)}"
        raise ConfigError([_fault(parsed, "station", why)])
    _raise_on_errors(config, workflow)
    found = [
        _fault(parsed, field, why) for field, why in _misfits(campaign, config, workflow.processing)
    ]
    if found:
        raise ConfigError(found)
    instrument = config.inventory.by_serial()[_standing(campaign, config, campaign.position)[0]]
    before = _certificate_before(instrument, campaign.valid_from)
    return LoadedCampaign(
        campaign,
        config,
        workflow.processing,
        workflow.raw,
        workflow.archive,
        instrument,
        before,
    )


def _raise_on_errors(config: StationConfig, workflow: LoadedWorkflow) -> None:
    """A record that does not fit together calibrates nothing; `check` tells its warnings."""
    settings, as_of = workflow.processing, workflow.workflow.as_of
    faults = check_station(config, settings.checks, as_of, settings.calibrate)
    if errors := [f for f in faults if f.severity == "error"]:
        raise ConfigError(errors)


def _workflow(path: Path, parsed: ParsedText, faults: list[Fault]) -> LoadedWorkflow | None:
    name = (parsed.data or {}).get("workflow")
    if not isinstance(name, str):
        return None  # the model's own fault, told already
    file = Path(os.path.normpath(path.parent / name))
    if not file.is_file():
        why = f"no such file; paths are relative to this file (got {file})"
        faults.append(_fault(parsed, "workflow", why))
        return None
    try:
        return load_workflow(file)
    except ConfigError as error:
        faults.extend(error.faults)
        return None


def _fault(parsed: ParsedText, field: str, why: str) -> Fault:
    return Fault(parsed.source.path, parsed.source.line(*field.split(".")), field, why)


def _named(campaign: Campaign) -> dict[str, str]:
    """Fields of the file that name a position."""
    fields = {"position": campaign.position}
    if campaign.components is None:
        return fields | {"reference": str(campaign.reference)}
    direct, diffuse = campaign.components.direct, campaign.components.diffuse
    return fields | {"components.direct": direct, "components.diffuse": diffuse}


def _misfits(
    campaign: Campaign, config: StationConfig, processing: Processing
) -> Iterator[tuple[str, str]]:
    """Field and fault of all in which the campaign does not fit the record."""
    positions = config.station.positions()
    unknown = {f: p for f, p in _named(campaign).items() if p not in positions}
    for field, position in unknown.items():
        yield field, f"no such position; {not_among(position, positions)}"
    if unknown:
        return
    yield from _wrong_quantities(campaign, positions)
    yield from _not_on_one_grid(campaign, config)
    for field, position in _named(campaign).items():
        stood = _standing(campaign, config, position)
        if len(stood) != 1:
            said = f"{len(stood)} instruments" if stood else "no instrument all the time"
            yield field, f"one instrument must stand at {position} throughout (got {said})"
        elif field != "position":
            yield from _uncertified(campaign, config, processing, (field, position))


def _wrong_quantities(campaign: Campaign, positions: dict[str, str]) -> Iterator[tuple[str, str]]:
    mine = positions[campaign.position]
    wanted = {"reference": mine, "components.direct": "dni", "components.diffuse": "dhi"}
    if mine in LONGWAVE:
        allowed = ", ".join(p for p, q in positions.items() if q not in LONGWAVE)
        yield "position", f"longwave is not calibrated by comparison here; allowed: {allowed}"
    elif campaign.method == "component_sum" and mine != "ghi":
        yield "method", f"component_sum is for ghi (got {mine} at {campaign.position})"
    for field, position in _named(campaign).items():
        if field == "position":
            continue
        if positions[position] != wanted[field] or position == campaign.position:
            fitting = [
                p for p, q in positions.items() if q == wanted[field] and p != campaign.position
            ]
            yield (
                field,
                f"must be another position that measures {wanted[field]}; allowed:"
                f" {', '.join(fitting) or 'none at this station'} (got {position})",
            )


def _interval(config: StationConfig, position: str) -> int:
    """Of the grid on which a position is archived. [s]"""
    return max(
        60,
        next(
            g.interval
            for g in config.station.loggers.values()
            if any(c.position == position and c.kind == "signal" for c in g.channels)
        ),
    )


def _not_on_one_grid(campaign: Campaign, config: StationConfig) -> Iterator[tuple[str, str]]:
    mine = _interval(config, campaign.position)
    for field, position in _named(campaign).items():
        if (other := _interval(config, position)) != mine:
            why = f"is logged every {other} s and {campaign.position} every {mine} s"
            yield field, f"{why}; allowed: one interval for all"


def _standing(campaign: Campaign, config: StationConfig, position: str) -> list[str]:
    """Serial numbers at a position in the campaign; empty where it stood vacant for a time."""
    begin, until = campaign.valid_from, campaign.until
    here = [p for p in deployment_periods(config.fieldlog) if p.entry.position == position]
    inside = [p for p in here if p.start < until and (p.end is None or p.end > begin)]
    covered = sum(_inside(p, begin, until) for p in inside)
    return [p.entry.instrument for p in inside] if covered >= until - begin else []


def _inside(period: DeploymentPeriod, begin: int, until: int) -> int:
    end = until if period.end is None else min(until, period.end)
    return end - max(begin, period.start)


def _uncertified(
    campaign: Campaign, config: StationConfig, processing: Processing, where: tuple[str, str]
) -> Iterator[tuple[str, str]]:
    """A reference without certificate in force, or with one that is too old."""
    field, position = where
    rows = [r for r in _reference_rows(campaign, config, processing) if r.position == position]
    if sum(r.end - r.start for r in rows) < campaign.until - campaign.valid_from:
        yield field, f"the reference at {position} has no certificate in force all the time"
    limit = processing.calibrate.largest_certificate_age
    for row in rows:
        if row.certified + limit * DAY < row.end:
            yield (
                field,
                f"certificate {row.certificate} of the reference {row.serial_number} is expired:"
                f" older than {limit:g} days within the campaign",
            )


def _reference_rows(
    campaign: Campaign, config: StationConfig, processing: Processing
) -> list[Coefficients]:
    rows = coefficient_rows(config, processing.calibrate, campaign.valid_from, campaign.until)
    return [r for r in rows if r.position in campaign.reference_positions()]


def _certificate_before(instrument: Instrument, time: int) -> Calibration | None:
    """The last certificate whose response tables still hold: no break since."""
    earlier = [c for c in instrument.calibrations if parse_utc(c.date) <= time]
    if not earlier:
        return None
    last = earlier[-1]
    broken = any(last.date <= b.date and parse_utc(b.date) <= time for b in instrument.breaks)
    return None if broken else last


def trial_config(loaded: LoadedCampaign) -> tuple[StationConfig, Processing]:
    """
    The station with one constant sensitivity for the instrument to be calibrated.

    Parameters
    ----------
    loaded : LoadedCampaign
        The campaign.

    Returns
    -------
    config, processing : StationConfig, Processing
        The instrument keeps its last certificate before the campaign alone, with its response
        tables, so that all corrections act as they will with the new one; without any, it gets
        the middle of its kind's usual sensitivities and no table. Its later certificates play no
        part.
    """
    instrument = loaded.instrument
    trial = loaded.before or _nominal(loaded)
    alone = instrument.model_copy(update={"calibrations": (trial,), "breaks": ()})
    every = tuple(
        alone if i.serial_number == instrument.serial_number else i
        for i in loaded.config.inventory.instruments
    )
    inventory = loaded.config.inventory.model_copy(update={"instruments": every})
    choice = loaded.processing.calibrate
    fixed = choice.fixed_certificates | {instrument.serial_number: trial.certificate}
    # what each correction did tells which were applied, and where one could not be
    kept = {"fixed_certificates": fixed, "keep_corrections": choice.corrections}
    choice = choice.model_copy(update=kept)
    processing = loaded.processing.model_copy(update={"calibrate": choice})
    return replace(loaded.config, inventory=inventory), processing


def _nominal(loaded: LoadedCampaign) -> Calibration:
    """On the scale of the reference; what it says beyond that is overwritten by the result."""
    kind = loaded.instrument.kind
    rows = _reference_rows(loaded.campaign, loaded.config, loaded.processing)
    middle = sum(SENSITIVITY_RANGES[kind]) / 2.0
    return Calibration.model_validate(
        {
            "certificate": TRIAL,
            "date": "1970-01-01",
            "sensitivity": {"as_left": middle, "unit": sensitivity_unit(kind)},
            "expanded_uncertainty": 20.0,
            "method": TRIAL,
            "reference_scale": rows[0].reference_scale,
            "traceability": TRIAL,
            "laboratory": TRIAL,
        }
    )
