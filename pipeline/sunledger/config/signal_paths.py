"""What a signal passes between its instrument and the file: gain and zero, by date."""

from __future__ import annotations

import math
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
    relative_uncertainties : tuple of float
        Standard uncertainty of the gain of each of them. [1]
    """

    position: str
    start: int
    end: int
    gain: float
    zero: float
    certificates: tuple[str, ...]
    relative_uncertainties: tuple[float, ...]

    @property
    def relative_uncertainty(self) -> float:
        """
        Standard uncertainty of the gain of the whole way.

        Returns
        -------
        relative_uncertainty : float
            Of independent certificates. [1]
        """
        return math.hypot(*self.relative_uncertainties)


InputSpan = tuple[int, int, str, InputCalibration]
"""From, until [s], serial number of the device, and its certificate in force between."""


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
    spans = [list(input_spans(config, passage, own)) for passage in channel.via]
    every = (t for device in spans for begin, until, *_ in device for t in (begin, until))
    inside = (t for t in every if period[0] < t < period[1])
    cuts = sorted({*period, *inside})
    for begin, until in pairwise(cuts):
        here = [next((c for a, b, _, c in device if a <= begin < b), None) for device in spans]
        found = [c for c in here if c is not None]
        if len(found) < len(here):
            continue
        gain, zero = combined_gain_and_zero((c.gain, c.zero) for c in found)
        doubt = tuple(c.expanded_uncertainty / 200.0 for c in found)
        names = tuple(c.certificate for c in found)
        yield SignalPath(str(channel.position), begin, until, gain, zero, names, doubt)


@dataclass(frozen=True)
class InputOnWay:
    """
    An input that a signal passes, with one of its certificates.

    Parameters
    ----------
    place : str
        Where the device stands.
    serial_number : str
        The device.
    certificate : InputCalibration
        Of the input.
    """

    place: str
    serial_number: str
    certificate: InputCalibration


def inputs_on_ways(config: StationConfig) -> Iterator[tuple[str, InputOnWay, int, int]]:
    """
    Every certificate of an input that a signal passes.

    Parameters
    ----------
    config : StationConfig
        Channels, inventory and deployments.

    Yields
    ------
    position, on_way, start, end : str, InputOnWay, int, int
        Whose signal, what it passes, and when that certificate is in force there. [s]
    """
    for name, logger in config.station.loggers.items():
        own = {name: logger.serial_number}
        for channel in logger.channels:
            for passage in channel.via:
                for begin, until, serial, certificate in input_spans(config, passage, own):
                    on_way = InputOnWay(passage.place, serial, certificate)
                    yield str(channel.position), on_way, begin, until


def devices_at(
    config: StationConfig, place: str, own: dict[str, str]
) -> tuple[tuple[int, int, str], ...]:
    """
    Devices that stood at a place on the way of a signal.

    Parameters
    ----------
    config : StationConfig
        Deployments.
    place : str
        As a channel's `via` names it.
    own : dict of str
        Name of the logger that reads the channel → its serial number: without a deployment it
        stands at its own name.

    Returns
    -------
    stood : tuple of (from, until, serial number)
        [s]
    """
    stood = tuple(
        (p.start, FAR_FUTURE if p.end is None else p.end, p.entry.instrument)
        for p in deployment_periods(config.fieldlog)
        if p.entry.position == place
    )
    if not stood and place in own:
        return ((FAR_PAST, FAR_FUTURE, own[place]),)
    return stood


def input_spans(
    config: StationConfig, passage: Passage, own: dict[str, str]
) -> Iterator[InputSpan]:
    """
    Certificates of the input at a place, and when each is in force there.

    Parameters
    ----------
    config : StationConfig
        Inventory and deployments.
    passage : Passage
        Place and input.
    own : dict of str
        As in :func:`devices_at`.

    Yields
    ------
    span : (from, until, serial number, InputCalibration)
        [s]
    """
    inventory = config.inventory.by_serial()
    for begin, until, serial in devices_at(config, passage.place, own):
        device = inventory.get(serial)
        mine = [c for c in device.inputs if c.input == passage.input] if device else []
        mine.sort(key=lambda c: c.date)
        dates = [*(parse_utc(c.date) for c in mine), FAR_FUTURE]
        for certificate, since, past in zip(mine, dates, dates[1:], strict=False):
            if max(begin, since) < min(until, past):
                yield max(begin, since), min(until, past), serial, certificate
