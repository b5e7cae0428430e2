"""What a month reads of those before it."""

from __future__ import annotations

from pathlib import Path

import pytest

from sunledger.archive.digest import parsed_digest
from sunledger.archive.findings_file import FindingsFile, findings_path, write_findings
from sunledger.run.context import RunContext
from sunledger.run.diagnosing import Minutes
from sunledger.run.job import Choice, prepare
from sunledger.run.months import month_bounds
from sunledger.run.series import MONTHS_BACK, StationSeries, told_by

NIGHTS = {"nights": {"ghi": {"nights": 9}}}
VERDICTS = {**NIGHTS, "evidence": {"clear_days": 3}, "steps": {"verdict": "x"}}
MAY, _ = month_bounds("2031-05")
JUNE, JULY = month_bounds("2031-06")


def rows(*days: int) -> list[list[float]]:
    """Closure of some days of May."""
    return [[0.0, MAY + 86400.0 * day, 0.0] for day in days]


@pytest.fixture
def context(made: Path, tmp_path: Path) -> RunContext:
    """An archive without a month."""
    return prepare(made, Choice(archive=tmp_path)).context


def judged(context: RunContext, month: str, days: list[list[float]]) -> None:
    """A findings file of a month."""
    header = {"verdicts": VERDICTS, "closure": days, "numbers": f"of {month}"}
    write_findings(findings_path(context.archive / "tst", month), FindingsFile(header))


def series(context: RunContext, *left_out: str, **keys: str) -> StationSeries:
    """Months of the station; keys by name of month."""
    return StationSeries(context, "tst", {}, keys, left_out)


def test_only_what_is_compared_is_told() -> None:
    """Fields of a month's own minutes; other verdicts leave the digests alone."""
    told = told_by(VERDICTS, rows(3))
    assert told.verdicts == NIGHTS
    assert told == told_by({**VERDICTS, "steps": {}}, rows(3))
    assert told_by({"nights": {"ghi": {"nights": 8}}}, rows(3)).verdicts_digest != (
        told.verdicts_digest
    )


def test_months_are_read_in_order_and_not_too_far_back(context: RunContext) -> None:
    """Broken files are passed over."""
    for month in ("2030-12", "2031-01", "2031-02", "2027-01"):
        judged(context, month, [])
    findings_path(context.archive / "tst", "2031-01").write_text("broken")
    assert MONTHS_BACK == 36
    of = {m: series(context).before(m, JUNE, JUNE).verdicts for m in ("2031-02", "2031-03")}
    assert of == {"2031-02": {"2030-12": NIGHTS}, "2031-03": {"2030-12": NIGHTS, "2031-02": NIGHTS}}
    assert list(series(context).before("2030-01", JUNE, JUNE).verdicts) == ["2027-01"]
    assert series(context).before("2030-02", JUNE, JUNE).verdicts == {}


def test_days_are_read_since_the_last_check(context: RunContext) -> None:
    """Keyed by exactly the rows that are read."""
    judged(context, "2031-05", rows(3, 10, 20))
    whole = series(context).before("2031-06", MAY, JUNE)
    assert whole.days == rows(3, 10, 20)
    some = series(context).before("2031-06", MAY + 5 * 86400, JUNE)
    assert some.days == rows(10, 20)
    assert some.key[-1] == [parsed_digest(rows(10, 20))]
    judged(context, "2031-05", rows(4, 10, 20))
    assert series(context).before("2031-06", MAY, JUNE).key != whole.key
    assert series(context).before("2031-06", MAY + 5 * 86400, JUNE).key == some.key
    assert series(context).before("2031-06", JUNE, JUNE).days == []


def test_a_file_of_other_numbers_is_not_read(context: RunContext) -> None:
    """Of a month of the run, only what was made of its numbers; of another, what is there."""
    judged(context, "2031-05", rows(3))

    def days(*left_out: str, **keys: str) -> list[list[float]]:
        return series(context, *left_out, **keys).before("2031-06", MAY, JUNE).days

    assert days() == days(**{"2031-05": "of 2031-05"}) == rows(3)
    assert days("2031-05") == []
    minutes = {"2031-05": Minutes("tst", "2031-05", "minute", "digest")}
    other = StationSeries(context, "tst", minutes, {"2031-05": "of other minutes"})
    assert other.before("2031-06", MAY, JUNE).days == []


def test_a_month_is_read_once(context: RunContext) -> None:
    """What was learnt of it stays."""
    judged(context, "2031-05", rows(3))
    mine = series(context)
    file = mine.learn("2031-05", mine.file("2031-05"))
    assert file is not None
    findings_path(context.archive / "tst", "2031-05").unlink()
    assert mine.before("2031-06", MAY, JUNE).days == rows(3)
    assert mine.file("2031-05") is None


def test_the_month_behind_alone_reads_the_days_of_a_step(context: RunContext) -> None:
    """It is stale when they change, and no later one."""

    def judged_with(size: int) -> None:
        verdicts = {**NIGHTS, "steps": {"verdict": "x", "series": {"days": [size]}}}
        header = {"verdicts": verdicts, "closure": [], "numbers": "n"}
        write_findings(findings_path(context.archive / "tst", "2031-05"), FindingsFile(header))

    judged_with(1)
    june, july = (series(context).before(m, JUNE, JUNE) for m in ("2031-06", "2031-07"))
    assert june.verdicts["2031-05"] == {**NIGHTS, "steps": {"series": {"days": [1]}}}
    assert july.verdicts["2031-05"] == NIGHTS
    judged_with(2)
    assert series(context).before("2031-06", JUNE, JUNE).key != june.key
    assert series(context).before("2031-07", JUNE, JUNE).key == july.key
