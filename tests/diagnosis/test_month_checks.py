"""The checks of a month, with the record."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import invented
from faults.domes import soiled
from generated_month import generated_month
from northmere.ossel_ridge import INJECTIONS, OSSEL_RIDGE
from recorded_month import START, TWO_GLOBALS, cleaning, exchanged_global, recorded
from sunledger.diagnosis.checks import diagnosed
from sunledger.diagnosis.month import NOT_ENOUGH
from sunledger.diagnosis.month_checks import NOT_SEPARABLE, certificates, dirt
from sunledger.diagnosis.selection import Components


def test_a_clean_month_is_told_in_numbers(dry_month: Components) -> None:
    """No finding, and what could be said."""
    month = recorded(dry_month, [cleaning(15)])
    for check in (certificates, dirt):
        found, verdict = check(month)
        assert found == []
        assert verdict
    _, told = certificates(month)
    assert told["stretches"][0]["clear_minutes"] > 1000
    assert "not observable" in dirt(month)[1]["limit"]


def test_a_cleaning_in_the_field_log_is_judged(dry_month: Components) -> None:
    """The step at its time, by its name and place, with the time in which the dirt gathered."""
    cut = START + 15 * 86400
    dirty = replace(dry_month, ghi=dry_month.ghi * np.where(dry_month.middle < cut, 0.97, 1.0))
    (found,) = [
        f
        for f in dirt(recorded(dirty, [cleaning(-20), cleaning(15)]))[0]
        if f.name == "cleaning_step"
    ]
    assert found.target == "global_1"
    assert found.lower < 3.0 < found.upper
    assert found.evidence["cleaned"] == cut
    assert found.evidence["since"] == START - 20 * 86400
    others = cleaning(15) | {"positions": ["diffuse_1", "direct_1"]}
    names = {(f.name, f.target) for f in dirt(recorded(dirty, [others]))[0]}
    assert ("sensitivity_changed", "ghi") in names
    assert not [n for n, _ in names if n == "cleaning_step"]


def test_growing_dirt_says_since_when_and_where(dry_month: Components) -> None:
    """From the last cleaning on, at the position, so that a person can accept it."""
    since = START + 5 * 86400
    passed = np.clip((dry_month.middle - since) / (25 * 86400.0), 0.0, 1.0)
    month = recorded(replace(dry_month, dni=dry_month.dni * (1 - 0.04 * passed)), [cleaning(5)])
    (found,) = [f for f in dirt(month)[0] if f.name == "soiling_drift"]
    assert (found.target, found.onset) == ("direct_1", since)
    assert found.lower < -3.0


def test_an_exchange_does_not_hide_the_loss_of_another(dry_month: Components) -> None:
    """5 % of the direct over the month; the global is exchanged on the 17th and reads otherwise."""
    passed = (dry_month.middle - START) / (30 * 86400.0)
    behind = dry_month.middle >= START + 16 * 86400
    parts = replace(
        dry_month,
        dni=dry_month.dni * (1.0 - 0.05 * passed),
        ghi=dry_month.ghi * np.where(behind, 1.008, 1.0),
    )
    month = recorded(parts, exchanged_global(16), instruments=TWO_GLOBALS)
    (found,) = dirt(month)[0]
    assert (found.name, found.target) == ("soiling_drift", "direct_1")
    first, last = found.evidence["seen"]
    assert found.lower < -5.0 * (last - first) / (30 * 86400) < found.upper
    # a global that is exchanged has no common course; each of its stretches is judged by itself
    dusty = replace(dry_month, ghi=dry_month.ghi * (1.0 - 0.05 * passed))
    (loss,), told = dirt(recorded(dusty, exchanged_global(16), instruments=TWO_GLOBALS))
    exchange = START + 16 * 86400
    assert [t["since"] for t in told["drifts"]] == [START, START, exchange]
    assert (loss.name, loss.target, loss.evidence["until"]) == (
        "soiling_drift",
        "global_1",
        exchange,
    )
    first, last = loss.evidence["seen"]
    assert loss.lower < -5.0 * (last - first) / (30 * 86400) < loss.upper


def test_the_loss_of_a_removed_instrument_is_not_that_of_a_later_cleaning() -> None:
    """
    5 % of the old global until its exchange on the 13th; then a cleaning on the 22nd.

    It shows 2 % of the new global, or 3 % of the diffuse: either has its own size, and what was
    lost before stands beside it.
    """
    parts = generated_month("kpn", 3, "2031-08-01")
    exchange, at = START + 12 * 86400, START + 21 * 86400
    old, before = parts.middle < exchange, parts.middle < at
    worn = parts.ghi * np.where(old, 1 - 0.05 * (parts.middle - START) / (12 * 86400), 1.0)
    globally = replace(parts, ghi=worn * np.where(before & ~old, 0.98, 1.0))
    diffusely = replace(parts, ghi=worn, dhi=parts.dhi * np.where(before, 0.97, 1.0))
    entries = [*exchanged_global(12), cleaning(21)]
    for dusty, target, size in ((globally, "global_1", 2.0), (diffusely, "diffuse_1", 3.0)):
        step, loss = dirt(recorded(dusty, entries, instruments=TWO_GLOBALS))[0]
        assert (step.name, step.target, step.evidence["cleaned"]) == ("cleaning_step", target, at)
        assert step.lower < size < step.upper
        assert step.size < size + 0.4
        assert "mean_percent" not in step.evidence
        assert (loss.name, loss.target) == ("soiling_drift", "global_1")
        assert loss.evidence["until"] == exchange
        first, last = loss.evidence["seen"]
        assert loss.lower < -5.0 * (last - first) / (12 * 86400) < loss.upper


def test_losses_before_and_behind_an_exchange_are_both_told(dry_month: Components) -> None:
    """5 % of the old global by the 14th, and 5 % of the new one by the end of the month."""
    day = (dry_month.middle - START) / 86400.0
    lost = 0.05 * np.where(day < 13, day / 13, (day - 13) / 17)
    dusty = replace(dry_month, ghi=dry_month.ghi * (1.0 - lost))
    found, told = dirt(recorded(dusty, exchanged_global(13), instruments=TWO_GLOBALS))
    exchange = START + 13 * 86400
    assert [f.evidence["until"] for f in found] == [exchange, START + 30 * 86400]
    assert [t["since"] for t in told["drifts"]] == [START, START, exchange]
    for loss, lasts in zip(found, (13, 17), strict=True):
        assert (loss.name, loss.target) == ("soiling_drift", "global_1")
        first, last = loss.evidence["seen"]
        assert loss.lower < -5.0 * (last - first) / (lasts * 86400) < loss.upper


def test_onsets_are_midnights_of_the_station(dry_month: Components) -> None:
    """At 170 degrees east the day begins at 12:40 UTC."""
    sooner = round((170.0 - dry_month.longitude) * 4) * 60.0
    moved = replace(dry_month, middle=dry_month.middle - sooner, longitude=170.0)
    lost = 0.04 * np.clip((moved.middle - START) / 86400.0 - 12.0, 0.0, None) / 18.0
    (found,) = dirt(recorded(replace(moved, ghi=moved.ghi * (1.0 - lost))))[0]
    assert (found.name, found.target) == ("soiling_drift", "global_1")
    assert (found.evidence["onset_likely"] + 170 * 240) % 86400 == 0


def test_the_samples_may_made_whole_names_the_direct() -> None:
    """
    Ossel Ridge, all of May: 5 % of the direct from the 11th until its cleaning on the 21st.

    The global is exchanged on the 12th, as in the sample, of which ten days are raw files; other
    weather and other draws of the instruments.
    """
    start = int(np.datetime64("2031-05-01", "s").astype(int))
    fault = next(i for i in INJECTIONS if i.kind == "soiled")
    loss = float(fault.settings["loss"])
    parts = generated_month(
        "osr",
        4,
        "2031-05-01",
        fault=lambda light: soiled(light, fault.start, fault.end, "dni", loss),
    )
    down, up = (np.datetime64(f"2031-05-12 {t}", "s").astype(int) for t in ("13:05", "13:50"))
    old, new = (
        OSSEL_RIDGE.instrument(s).certificates[-1].sensitivity for s in ("NMR-G-1041", "NMR-G-1067")
    )
    # what is generated is over the certificate of the second one all month
    ghi = np.where(parts.middle < down, parts.ghi * new / old, parts.ghi)
    parts = replace(parts, ghi=np.where((parts.middle >= down) & (parts.middle < up), np.nan, ghi))
    entries = [cleaning(4.44, start), cleaning((fault.end - start) / 86400, start)]
    entries += exchanged_global((up - start) / 86400, start)
    (found,) = diagnosed(recorded(parts, entries, start, TWO_GLOBALS), ("steps", "dirt"))[0]
    assert (found.name, found.target) == ("soiling_drift", "direct_1")
    last = found.evidence["seen"][1]
    truth = -100 * loss * (last - fault.start) / (fault.end - fault.start)
    assert found.lower < truth < found.upper
    assert found.size == pytest.approx(truth, abs=0.8)


def test_a_loss_that_more_than_one_can_have_is_not_separable(dry_month: Components) -> None:
    """Half of global and half of direct."""
    passed = (dry_month.middle - START) / (30 * 86400.0)
    parts = replace(
        dry_month,
        dni=dry_month.dni * (1.0 + 0.03 * passed),
        ghi=dry_month.ghi * (1.0 - 0.025 * passed),
    )
    found, told = dirt(recorded(parts))
    assert found == []
    assert told["drifts"][0]["said"] == NOT_SEPARABLE


def test_a_loss_whose_cleaning_could_not_tell_it_is_told_by_its_drift(
    dry_month: Components,
) -> None:
    """Dust on the global until the 16th; with too few dull hours behind, the step is not told."""
    at = START + 15 * 86400
    dusty, grown = dry_month.middle < at, 0.05 * (dry_month.middle - START) / (15 * 86400.0)
    parts = replace(dry_month, ghi=dry_month.ghi * np.where(dusty, 1.0 - grown, 1.0))
    whole, month = (recorded(parts, [cleaning(15)]) for _ in range(2))
    # where dull hours follow, the step alone tells it, with what had gathered by then
    (step,) = dirt(whole)[0]
    assert (step.name, step.target) == ("cleaning_step", "global_1")
    assert step.lower < 5.0 < step.upper
    assert 2.0 < step.evidence["mean_percent"][0] < 3.5
    assert "in the mean" in step.action
    clear, dull = whole.skies
    month.__dict__["skies"] = (clear, dull.where(dull.middle < at))
    (loss,) = dirt(month)[0]
    assert (loss.name, loss.target, loss.onset) == ("soiling_drift", "global_1", START)
    assert loss.evidence["until"] == at
    assert loss.lower < -4.0


def test_the_drift_between_cleanings_is_told(dry_month: Components) -> None:
    """One row a stretch: none in the first, three percent a fortnight in the second."""
    passed = (dry_month.middle - START) / 86400.0 - 15.0
    loss = 1.0 - 0.03 / 15.0 * np.clip(passed, 0.0, 15.0)
    month = recorded(replace(dry_month, ghi=dry_month.ghi * loss), [cleaning(15)])
    _, told = dirt(month)
    assert [row["since"] for row in told["drifts"]] == [START, START + 15 * 86400]
    first, second = (row["clear_percent"] for row in told["drifts"])
    assert abs(first) < 0.5
    assert second == pytest.approx(-3.0, abs=0.7)


def test_an_exchange_with_the_wrong_certificates_is_named(dry_month: Components) -> None:
    """Two instruments calibrated anew, their new sensitivities entered the wrong way round."""
    half = START + 15 * 86400
    month = recorded(dry_month)
    true = {q: invented.SENSITIVITY[p] for q, p in (("ghi", "global_1"), ("dni", "direct_1"))}
    rows = []
    for row in month.resolved.coefficients:
        other = {"ghi": "dni", "dni": "ghi"}.get(row.quantity)
        if other:
            wrong = ((half, true[other]),)
            rows += [replace(row, end=half), replace(row, start=half, sensitivity_points=wrong)]
        else:
            rows.append(row)
    late, ratio = dry_month.middle >= half, true["ghi"] / true["dni"]
    parts = replace(
        dry_month,
        ghi=np.where(late, dry_month.ghi * ratio, dry_month.ghi),
        dni=np.where(late, dry_month.dni / ratio, dry_month.dni),
    )
    resolved = replace(month.resolved, coefficients=tuple(rows))
    found, _ = certificates(replace(month, parts=parts, resolved=resolved))
    assert ("certificates_swapped", "dni ghi") in {(f.name, f.target) for f in found}


def test_gross_faults_silence_the_finer_ones(dry_month: Components) -> None:
    """A reversed polarity is all that is said."""
    found, _ = certificates(recorded(replace(dry_month, dhi=-dry_month.dhi)))
    assert [(f.name, f.target) for f in found] == [("polarity_reversed", "dhi")]


def test_little_clear_sky_is_not_enough(dry_month: Components) -> None:
    """It is said, not passed over."""
    few = replace(dry_month, usable=dry_month.middle < START + 2 * 86400)
    month = recorded(few)
    assert certificates(month)[1]["stretches"][0]["said"] == NOT_ENOUGH
    dark = recorded(replace(dry_month, usable=np.zeros(dry_month.middle.size, dtype=bool)))
    for check in (certificates, dirt):
        assert check(dark)[0] == []
