"""Readings faster than a minute, pooled to minutes after calibration."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.resolve import ResolvedLogger
from sunledger.datasets import as_variables, taken
from sunledger.stages.places import Places, places, run_or_rows
from sunledger.vocabulary import CONDITIONS, CORRECTIONS

Array = npt.NDArray[np.float64]
Times = npt.NDArray[np.int64]


def _mean(values: Array, first: Times) -> Array:
    """Mean of the finite values of each group; NaN without one."""
    finite = np.isfinite(values)
    total = np.add.reduceat(np.where(finite, values, 0.0), first)
    count = np.add.reduceat(finite, first, dtype=np.int64)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _pooled_statistics(values: dict[str, Array], first: Times, sizes: Times) -> dict[str, Array]:
    """
    Mean, min, max and standard deviation of each group.

    The deviation of a group is the root of the mean of variances plus the variance of means; the
    variance within a reading is 0 where the logger did not write it.
    """
    mean = _mean(values["mean"], first)
    spread = _mean((values["mean"] - np.repeat(mean, sizes)) ** 2, first)
    within = _mean(values["std"] ** 2, first) if "std" in values else 0.0
    lowest, highest = values.get("min", values["mean"]), values.get("max", values["mean"])
    return {
        "mean": mean,
        "min": np.fmin.reduceat(lowest, first),
        "max": np.fmax.reduceat(highest, first),
        "std": np.sqrt(spread + within),
    }


def _groups(minute: Times) -> tuple[Places, Times]:
    """Order that brings equal minutes together, and first index of each group."""
    order = run_or_rows(np.argsort(minute, kind="stable"))
    ranked = minute[order]
    starts = np.flatnonzero(np.concatenate(([True], ranked[1:] != ranked[:-1])))
    return order, starts


def _position_pools(
    ds: xr.Dataset, position: str, order: Places, first: Times, full: int
) -> dict[str, npt.NDArray[Any]]:
    sizes = np.diff(np.append(first, ds[position].size))
    found = {
        s: ds[n].values[order]
        for s, n in (("mean", position), *((s, f"{position}_{s}") for s in ("min", "max", "std")))
        if n in ds
    }
    pooled = _pooled_statistics(found, first, sizes)
    out: dict[str, npt.NDArray[Any]] = {
        position if s == "mean" else f"{position}_{s}": v for s, v in pooled.items()
    }
    words = ds[f"{position}_conditions"].values[order]
    there = np.add.reduceat(np.isfinite(found["mean"]), first, dtype=np.int64)
    # a group without any value is missing, unless readings themselves are
    few = (sizes < full) | ((there > 0) & (there < full))
    few_bit = np.where(few, CONDITIONS["few_samples"].mask, 0).astype(np.int32)
    out[f"{position}_conditions"] = np.bitwise_or.reduceat(words, first) | few_bit
    over = ds[f"{position}_over_range"].values[order]
    out[f"{position}_over_range"] = np.logical_or.reduceat(over, first)
    for suffix in _AVERAGED:
        if f"{position}_{suffix}" in ds:
            out[f"{position}_{suffix}"] = _mean(ds[f"{position}_{suffix}"].values[order], first)
    return out


_AVERAGED = (
    *("body_temperature_kelvin", "dome_temperature_kelvin", "fingerprint"),
    *(f"{name}_correction" for name in CORRECTIONS),
)


def interval_of(start: Array, logger: ResolvedLogger, interval: int) -> Times:
    """
    Interval into which each reading is pooled.

    Parameters
    ----------
    start : numpy.ndarray, shape (reading,)
        True start of the readings. [s]
    logger : ResolvedLogger
        The logger.
    interval : int
        [s]

    Returns
    -------
    number : numpy.ndarray of int64, shape (reading,)
        Of the interval that holds the true middle of the reading, counted from 1970.
    """
    return np.floor((start + logger.interval / 2) / interval).astype(np.int64)


def pool_readings(
    ds: xr.Dataset, logger: ResolvedLogger, interval: int
) -> tuple[xr.Dataset, ResolvedLogger]:
    """
    Pool the calibrated readings of a fast logger to longer intervals.

    Parameters
    ----------
    ds : xarray.Dataset
        Calibrated readings with true start times.
    logger : ResolvedLogger
        A logger whose interval divides ``interval``.
    interval : int
        [s]

    Returns
    -------
    pooled : xarray.Dataset
        One reading an interval, by the true middle of the readings in it: mean, min, max and
        standard deviation of irradiances, means of air data, first value of a status. An interval
        with fewer readings, or fewer values, than fit gets the condition ``few_samples``, one with
        a conflicting line ``label_conflict``.
    pooled_logger : ResolvedLogger
        The same logger as if it had averaged over ``interval``, min, max and std included.
    """
    dim = f"reading_{logger.name}"
    status, start = (ds[f"{n}_{logger.name}"].values for n in ("line_status", "start_time"))
    kept = taken(ds, {dim: places(status == 0)})
    conflicting = start[status != 0]
    minute = interval_of(start[status == 0], logger, interval)
    if minute.size == 0:
        return kept, logger
    order, first = _groups(minute)
    disputed = np.isin(minute[order][first], interval_of(conflicting, logger, interval))
    common = np.where(disputed, CONDITIONS["label_conflict"].mask, 0).astype(np.int32)
    pooled: dict[str, npt.NDArray[Any]] = {}
    for position in dict.fromkeys(str(c.position) for c in logger.channels if c.kind == "signal"):
        pooled |= _position_pools(kept, position, order, first, interval // logger.interval)
        pooled[f"{position}_conditions"] |= common
    for channel in logger.channels:
        if channel.kind == "air":
            name = f"{channel.name}_si"
            pooled[name] = _mean(kept[name].values[order], first)
        if channel.kind == "status":
            pooled[channel.name] = kept[channel.name].values[order][first]
    for name in ("logger_time", "line_status", "source_file", "source_line"):
        pooled[f"{name}_{logger.name}"] = kept[f"{name}_{logger.name}"].values[order][first]
    pooled[f"start_time_{logger.name}"] = minute[order][first] * float(interval)
    others = kept.drop_vars([v for v in kept.variables if dim in kept[v].dims])
    signals = {c.position: c for c in logger.channels if c.kind == "signal"}
    spread = tuple(
        c.model_copy(update={"statistic": s})
        for c in signals.values()
        for s in ("mean", "min", "max", "std")
    )
    rest = tuple(c for c in logger.channels if c.kind != "signal")
    quick = replace(logger, interval=interval, channels=(*spread, *rest))
    return others.assign(as_variables({n: (dim, v) for n, v in pooled.items()})), quick
