"""Faults of domes and windows: soiling, frost, failed ventilation, water inside."""

from __future__ import annotations

import numpy as np

from faults.readings import Component, Floats, Light, elapsed_share


def soiled(
    light: Light, start: float, end: float, component: Component = "dni", loss: float = 0.05
) -> Light:
    """
    Slow soiling, ended at once by a cleaning.

    Parameters
    ----------
    light : Light
        Light without the fault.
    start, end : float
        When the loss begins and when the cleaning ends it. [s]
    component : {"ghi", "dhi", "dni", "lwd"}
        Which instrument.
    loss : float
        Share lost just before the cleaning; it grows linearly from none.

    Returns
    -------
    light : Light
        That component changed.
    """
    lost = loss * elapsed_share(light, start, end) * light.within(start, end)
    return light.scaled(component, 1.0 - lost)


def frost_cover(light: Light, start: float, end: float, thaw: float = 0.4) -> Floats:
    """
    How far a dome is covered: it grows for a quarter of the time, stays, and thaws.

    Parameters
    ----------
    light : Light
        Gives the times.
    start, end : float
        First frost and last of it. [s]
    thaw : float
        Share of the period taken by thawing.

    Returns
    -------
    cover : ndarray of float, shape (time,)
        Between 0 and 1; 0 outside the period.
    """
    passed = elapsed_share(light, start, end)
    shape = np.minimum(np.minimum(passed / 0.25, (1.0 - passed) / thaw), 1.0)
    return np.where(light.within(start, end), shape, 0.0)


def dome_frosted(
    light: Light, start: float, end: float, component: Component = "ghi", loss: float = 0.25
) -> Light:
    """
    Frost on a dome at dawn.

    A pyranometer under full cover loses `loss` of the light. A pyrgeometer (`lwd`) sees frost at
    the temperature of the dome in place of the sky: its net signal goes to nothing by the cover.

    Parameters
    ----------
    light : Light
        Light without the fault; `lwd` needs `emission`.
    start, end : float
        When. [s]
    component : {"ghi", "dhi", "dni", "lwd"}
        Which instrument.
    loss : float
        Share of the shortwave lost under full cover.

    Returns
    -------
    light : Light
        That component changed.

    Raises
    ------
    ValueError
        If the pyrgeometer is meant and no emission is given.
    """
    cover = frost_cover(light, start, end)
    if component != "lwd":
        return light.scaled(component, 1.0 - loss * cover)
    if light.emission is None:
        raise ValueError("frost on a pyrgeometer needs the emission of the instruments")
    return light.scaled("lwd", 1.0 - cover).raised("lwd", light.emission * cover)


def ventilator_off(
    light: Light, start: float, end: float, component: Component = "ghi", factor: float = 0.03
) -> Light:
    """
    Ventilator standing: the dome cools to the sky, which adds a thermal offset.

    Parameters
    ----------
    light : Light
        Light without the fault, with `lwd` and `emission` as arrays.
    start, end : float
        When. [s]
    component : {"ghi", "dhi", "dni", "lwd"}
        Which pyranometer.
    factor : float
        Added offset per net longwave. [W m-2 per W m-2]

    Returns
    -------
    light : Light
        That component lowered by `factor` times the net longwave loss, reached within half an
        hour.

    Raises
    ------
    ValueError
        If longwave or emission are not given.
    """
    if light.lwd is None or light.emission is None:
        raise ValueError("a standing ventilator needs the longwave and the emission")
    sky = light.lwd if isinstance(light.lwd, np.ndarray) else light.lwd.mean
    onset = np.clip((np.asarray(light.time, dtype=float) - start) / 1800.0, 0.0, 1.0)
    share = np.where(light.within(start, end), factor * onset, 0.0)
    return light.raised(component, share * np.minimum(sky - light.emission, 0.0))


def water_in_dome(
    light: Light, start: float, end: float, component: Component = "dhi", loss: float = 0.15
) -> Light:
    """
    Condensed water inside a dome, evaporating: the loss falls linearly to none.

    Parameters
    ----------
    light : Light
        Light without the fault.
    start, end : float
        When. [s]
    component : {"ghi", "dhi", "dni", "lwd"}
        Which instrument.
    loss : float
        Share lost at the start.

    Returns
    -------
    light : Light
        That component changed.
    """
    left = (1.0 - elapsed_share(light, start, end)) * light.within(start, end)
    return light.scaled(component, 1.0 - loss * left)
