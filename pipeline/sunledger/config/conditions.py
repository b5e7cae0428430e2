"""What the record says about intervals, resolved before any data is read.

Doubt runs backwards: what a check finds out of tolerance was so since some time after the last
good check, so that all the time between is doubtful, over any distance.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from sunledger.config.clocks import clock_checks
from sunledger.config.coefficients import DAY, spans_by_policy
from sunledger.config.loading import StationConfig
from sunledger.config.models.base import FAR_FUTURE, FAR_PAST, parse_utc
from sunledger.config.models.fieldlog import (
    AlignmentEvent,
    ClockCheck,
    Deployment,
    Entry,
    LevelCheck,
    PositionEvent,
    ThermalSensorCheck,
    Visit,
)
from sunledger.config.models.processing import CalibrateSettings, Processing
from sunledger.config.record import deployment_periods
from sunledger.config.remembering import remembered


@dataclass(frozen=True, order=True)
class ConditionInterval:
    """
    One condition bit over one interval.

    Parameters
    ----------
    condition : str
        A name of ``vocabulary.CONDITIONS``.
    target : str
        Position, quantity or logger that it bears on; ``*`` for all.
    start, end : int
        Half-open interval. [s]
    cause : str
        Identifier of the entry or certificate behind it.
    """

    condition: str
    target: str
    start: int
    end: int
    cause: str


def _uncovered(covered: Iterable[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """Gaps between half-open intervals, from the far past to the far future."""
    begin = FAR_PAST
    for start, end in sorted(covered):
        if start > begin:
            yield begin, start
        begin = max(begin, end)
    if begin < FAR_FUTURE:
        yield begin, FAR_FUTURE


def deployment_conditions(
    config: StationConfig, settings: CalibrateSettings
) -> Iterator[ConditionInterval]:
    """
    Times without an instrument or certificate, with an old one, or behind an uncorrected band.

    Parameters
    ----------
    config : StationConfig
        Deployments and certificates.
    settings : CalibrateSettings
        Largest age of a certificate.

    Yields
    ------
    interval : ConditionInterval
        By position.
    """
    instruments = config.inventory.by_serial()
    periods = [
        (p.entry, p.start, p.end if p.end is not None else FAR_FUTURE)
        for p in deployment_periods(config.fieldlog)
    ]
    for position in config.station.positions():
        here = [(e, a, b) for e, a, b in periods if e.position == position]
        for start, end in _uncovered((a, b) for _, a, b in here):
            yield ConditionInterval("no_deployment", position, start, end, position)
        for entry, a, b in here:
            spans = spans_by_policy(instruments[entry.instrument], settings)
            first = min((s[2] for s in spans), default=FAR_FUTURE)
            if a < first:
                yield ConditionInterval("no_calibration", position, a, min(b, first), entry.id)
            for certificate, _, begin, until in spans:
                dated = max(begin, parse_utc(certificate.date))
                old = max(a, dated + int(settings.largest_certificate_age * DAY))
                if old < min(b, until):
                    yield ConditionInterval(
                        "calibration_expired", position, old, min(b, until), certificate.certificate
                    )
            if entry.shade == "band" and (
                entry.band is None or "sky_obstruction" not in settings.corrections
            ):
                yield ConditionInterval("shade_band_uncorrected", position, a, b, entry.id)


def backward_doubt(
    checks: Iterable[tuple[int, bool, bool, str]], condition: str, target: str, installed: int
) -> Iterator[ConditionInterval]:
    """
    Intervals made doubtful by checks that found something out of tolerance.

    Parameters
    ----------
    checks : iterable of (time, found_good, left_good, id)
        In any order. [s]
    condition, target : str
        Bit and what it bears on.
    installed : int
        Where doubt ends when there is no good check before. [s]

    Yields
    ------
    interval : ConditionInterval
        From the last good as-left check, or the installation, to the bad as-found check; and from
        a check that was left bad to the next check.
    """
    ordered = sorted(checks)
    following = [row[0] for row in ordered[1:]] + [FAR_FUTURE]
    last_good = installed
    for row, following_time in zip(ordered, following, strict=False):  # there may be no check
        time, found_good, left_good, cause = row
        if not found_good and last_good < time:
            yield ConditionInterval(condition, target, last_good, time, cause)
        if left_good:
            last_good = time
        else:
            yield ConditionInterval(condition, target, time, following_time, cause)
            last_good = following_time


def _installations(config: StationConfig) -> dict[str, list[int]]:
    times: dict[str, list[int]] = {}
    for period in deployment_periods(config.fieldlog):
        times.setdefault(period.entry.position, []).append(period.start)
    return times


def _between_installations(installed: list[int]) -> Iterator[tuple[int, int]]:
    yield from zip([*sorted(installed)], [*sorted(installed)[1:], FAR_FUTURE], strict=True)


def _doubt_by_position(
    config: StationConfig,
    condition: str,
    checks: dict[str, list[tuple[int, bool, bool, str]]],
) -> Iterator[ConditionInterval]:
    """Doubt never reaches across an installation: another instrument stood there before."""
    installed = _installations(config)
    for position, rows in checks.items():
        for start, end in _between_installations(installed.get(position, [FAR_PAST])):
            inside = [row for row in rows if start <= row[0] < end]
            for item in backward_doubt(inside, condition, position, start):
                yield replace(item, end=min(item.end, end))


def level_conditions(
    config: StationConfig, settings: CalibrateSettings
) -> Iterator[ConditionInterval]:
    """
    Time in which an instrument may have been off level.

    Parameters
    ----------
    config : StationConfig
        Level checks.
    settings : CalibrateSettings
        Tolerance.

    Yields
    ------
    interval : ConditionInterval
        ``level_doubtful`` by position.
    """
    checks: dict[str, list[tuple[int, bool, bool, str]]] = {}
    for entry in config.fieldlog.in_force():
        if isinstance(entry, LevelCheck):
            final = entry.after_tightening or entry.left or entry.found
            good = entry.found.size <= settings.level_tolerance
            left_good = final.size <= settings.level_tolerance
            checks.setdefault(entry.position, []).append((entry.time, good, left_good, entry.id))
    yield from _doubt_by_position(config, "level_doubtful", checks)


def sensor_conditions(
    config: StationConfig, settings: CalibrateSettings
) -> Iterator[ConditionInterval]:
    """
    Time in which a shade or a thermal sensor may have been wrong.

    Parameters
    ----------
    config : StationConfig
        Shade alignments and thermal sensor checks.
    settings : CalibrateSettings
        Tolerance of thermal sensors.

    Yields
    ------
    interval : ConditionInterval
        ``shade_doubtful`` and ``thermal_sensor_doubtful`` by position.
    """
    shade: dict[str, list[tuple[int, bool, bool, str]]] = {}
    thermal: dict[str, list[tuple[int, bool, bool, str]]] = {}
    for entry in config.fieldlog.in_force():
        if isinstance(entry, AlignmentEvent) and entry.type == "shade_alignment":
            for position in entry.positions:
                row = (entry.time, not entry.out_of_place, True, entry.id)
                shade.setdefault(position, []).append(row)
        if isinstance(entry, ThermalSensorCheck):
            left = entry.found if entry.left is None else entry.left
            limit = settings.thermal_sensor_tolerance
            row = (entry.time, abs(entry.found) <= limit, abs(left) <= limit, entry.id)
            thermal.setdefault(entry.position, []).append(row)
    yield from _doubt_by_position(config, "shade_doubtful", shade)
    yield from _doubt_by_position(config, "thermal_sensor_doubtful", thermal)


def clock_conditions(config: StationConfig, tolerance: float) -> Iterator[ConditionInterval]:
    """
    Time between two clock checks whose drift is more than can be trusted to be steady.

    Parameters
    ----------
    config : StationConfig
        Clock checks.
    tolerance : float
        Largest drift between two checks. [s]

    Yields
    ------
    interval : ConditionInterval
        ``clock_doubtful`` by logger.
    """
    for logger in config.station.loggers:
        before: ClockCheck | None = None
        for check in clock_checks(config.fieldlog, logger):
            left = None if before is None else before.found if before.left is None else before.left
            if before is not None and left is not None and abs(check.found - left) > tolerance:
                yield ConditionInterval("clock_doubtful", logger, before.time, check.time, check.id)
            before = check


def _work_interval(entry: Entry, margin: int) -> tuple[int, int]:
    end = getattr(entry, "until", None) or entry.time
    return entry.time - margin, end + margin


def work_conditions(config: StationConfig, margin: int) -> Iterator[ConditionInterval]:
    """
    Time in which somebody worked, the power was off, or the record knows a loss.

    Parameters
    ----------
    config : StationConfig
        Visits, cleanings, alignments, ventilator notes.
    margin : int
        Added on both sides. [s]

    Yields
    ------
    interval : ConditionInterval
        ``maintenance``, ``tracker_homing``, ``ventilation_off`` and ``soiling_recorded``.
    """
    for entry in config.fieldlog.in_force():
        if not isinstance(entry, Visit | PositionEvent | AlignmentEvent | LevelCheck):
            continue
        start, end = _work_interval(entry, margin)
        targets = (entry.position,) if isinstance(entry, LevelCheck) else entry.positions or ("*",)
        name = "tracker_homing" if entry.type == "tracker_homing" else "maintenance"
        for target in targets:
            yield ConditionInterval(name, target, start, end, entry.id)
            if isinstance(entry, PositionEvent) and entry.soiled_since is not None:
                yield ConditionInterval(
                    "soiling_recorded", target, entry.soiled_since, entry.time, entry.id
                )
            if isinstance(entry, PositionEvent) and entry.off_since is not None:
                yield ConditionInterval(
                    "ventilation_off", target, entry.off_since, entry.time, entry.id
                )


def review_conditions(config: StationConfig) -> Iterator[ConditionInterval]:
    """
    A reviewer's decisions.

    Parameters
    ----------
    config : StationConfig
        With its review.

    Yields
    ------
    interval : ConditionInterval
        ``review_accepted`` or ``review_rejected`` by quantity.
    """
    for decision in config.review.decisions:
        name = f"review_{decision.decision}ed"
        for quantity in decision.quantities:
            yield ConditionInterval(name, quantity, decision.time, decision.until, decision.id)


def _ends(entry: Entry, condition: str, target: str) -> bool:
    """Whether an entry is the next look at what an accepted finding put in doubt."""
    if condition == "soiling_recorded":
        if isinstance(entry, Deployment):  # dirt goes with the dome
            return entry.position == target
        if not isinstance(entry, PositionEvent) or entry.type != "cleaning":
            return False
        return not entry.positions or target in entry.positions
    if condition == "level_doubtful":
        return isinstance(entry, LevelCheck) and entry.position == target
    return isinstance(entry, ClockCheck) and entry.logger == target


def accepted_conditions(config: StationConfig) -> Iterator[ConditionInterval]:
    """
    Doubt that follows from findings which a person accepted.

    Parameters
    ----------
    config : StationConfig
        With its review and field log.

    Yields
    ------
    interval : ConditionInterval
        From the onset to the stated end, or else to the next check or cleaning of what is in
        doubt; dirt also ends where another instrument comes.
    """
    entries = config.fieldlog.in_force()
    for accepted in config.review.accepted_findings:
        for target in accepted.targets:
            checks = (e.time for e in entries if _ends(e, accepted.condition, target))
            following = min((t for t in checks if t > accepted.time), default=FAR_FUTURE)
            end = following if accepted.until is None else accepted.until
            yield ConditionInterval(accepted.condition, target, accepted.time, end, accepted.id)


def condition_intervals(
    config: StationConfig, processing: Processing, start: int, end: int
) -> tuple[ConditionInterval, ...]:
    """
    Every condition interval that touches a period.

    Parameters
    ----------
    config : StationConfig
        Field log, inventory, review.
    processing : Processing
        Tolerances.
    start, end : int
        Period. [s]

    Returns
    -------
    intervals : tuple of ConditionInterval
        Clipped to the period, sorted.
    """
    near = (i for i in _every_interval(config, processing) if i.start < end and i.end > start)
    clipped = (replace(i, start=max(i.start, start), end=min(i.end, end)) for i in near)
    return tuple(sorted(i for i in clipped if i.start < i.end))


@remembered(64)
def _every_interval(config: StationConfig, processing: Processing) -> tuple[ConditionInterval, ...]:
    """Over the whole record."""
    calibrate, time = processing.calibrate, processing.time_correct
    return (
        *deployment_conditions(config, calibrate),
        *level_conditions(config, calibrate),
        *sensor_conditions(config, calibrate),
        *clock_conditions(config, time.drift_tolerance),
        *work_conditions(config, int(time.visit_margin)),
        *review_conditions(config),
        *accepted_conditions(config),
    )
