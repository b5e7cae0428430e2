"""What a signal passes between its instrument and the file: gain and zero, by date."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from sunledger.config.loading import StationConfig
from sunledger.config.models.base import FAR_FUTURE, FAR_PAST, parse_utc
from sunledger.config.models.instruments import InputCalibration
from sunledger.config.models.processing import CalibrateSettings
from sunledger.config.models.station import Channel, Passage
from sunledger.config.record import deployment_periods
from sunledger.physics.logger_gain import combined_gain_and_zero


@dataclass(frozen=True)
class SignalPath:
    """
    Gain and zero of the way from a radiometer to the file, for a time.

    Parameters
    ----------
    position : str
        Of the radiometer.
    start, end : int
        Half-open. [s]
    gain : float
        True signal over indicated, once the zero is taken off. [1]
    zero : float
        [uV]
    certificates : tuple of str
        Of the devices on the way, from the instrument outwards.
    relative_uncertainty : float
        Standard uncertainty of the gain. [1]
    """

    position: str
    start: int
    end: int
    gain: float
    zero: float
    certificates: tuple[str, ...]
    relative_uncertainty: float


_Span = tuple[int, int, InputCalibration]


def signal_paths(
    config: StationConfig, settings: CalibrateSettings, start: int, end: int
) -> tuple[SignalPath, ...]:
    """
    Ways of all signals whose channels say what they pass.

    Parameters
    ----------
    config : StationConfig
        Channels, inventory and deployments.
    settings : CalibrateSettings
        Whether zero and gain are wanted.
    start, end : int
        Period. [s]

    Returns
    -------
    paths : tuple of SignalPath
        By position and time. A time in which a device has no certificate has no row.
    """
    rows: list[SignalPath] = []
    for name, logger in config.station.loggers.items():
        for channel in logger.channels:
            if channel.kind == "signal" and channel.statistic == "mean" and channel.via:
                rows += _paths_of(config, channel, {name: logger.serial_number}, (start, end))
    wanted = settings.corrections
    return tuple(
        SignalPath(
            **{
                **row.__dict__,
                "gain": row.gain if "logger_gain" in wanted else 1.0,
                "zero": row.zero if "logger_zero" in wanted else 0.0,
            }
        )
        for row in sorted(rows, key=lambda r: (r.position, r.start))
    )


def _paths_of(
    config: StationConfig, channel: Channel, own: dict[str, str], period: tuple[int, int]
) -> Iterator[SignalPath]:
    spans = [list(_spans(config, passage, own)) for passage in channel.via]
    every = (t for device in spans for begin, until, _ in device for t in (begin, until))
    inside = (t for t in every if period[0] < t < period[1])
    cuts = sorted({*period, *inside})
    for begin, until in pairwise(cuts):
        here = [next((c for a, b, c in device if a <= begin < b), None) for device in spans]
        found = [c for c in here if c is not None]
        if len(found) < len(here):
            continue
        gain, zero = combined_gain_and_zero((c.gain, c.zero) for c in found)
        doubt = sum((c.expanded_uncertainty / 200.0) ** 2 for c in found) ** 0.5
        names = tuple(c.certificate for c in found)
        yield SignalPath(str(channel.position), begin, until, gain, zero, names, doubt)


def _spans(config: StationConfig, passage: Passage, own: dict[str, str]) -> Iterator[_Span]:
    """Certificates of the input at a place, and when each is in force there."""
    inventory = config.inventory.by_serial()
    stood = [
        (p.start, FAR_FUTURE if p.end is None else p.end, p.entry.instrument)
        for p in deployment_periods(config.fieldlog)
        if p.entry.position == passage.place
    ]
    if not stood and passage.place in own:
        stood = [(FAR_PAST, FAR_FUTURE, own[passage.place])]
    for begin, until, serial in stood:
        device = inventory.get(serial)
        mine = [c for c in device.inputs if c.input == passage.input] if device else []
        mine.sort(key=lambda c: c.date)
        dates = [*(parse_utc(c.date) for c in mine), FAR_FUTURE]
        for certificate, since, past in zip(mine, dates, dates[1:], strict=False):
            if max(begin, since) < min(until, past):
                yield max(begin, since), min(until, past), certificate
