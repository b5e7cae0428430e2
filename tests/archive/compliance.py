"""Runs compliance-checker on a file and tells what it found beyond what is known of it."""

from __future__ import annotations

import json
import shutil
import tempfile
import warnings
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import netCDF4
from compliance_checker.runner import CheckSuite, ComplianceChecker

CHECKERS = ("cf:1.11", "acdd:1.3")

# The checker's own mistake: CF-1.11's conformance document forbids `units_metadata` where no
# temperature is involved; the rule it applies is of CF-1.12, and CF-1.13 withdrew it.
LEAP_SECONDS = (
    "Variable {} has a calendar attribute of standard and it is recommended that the units_metadata"
    " attribute is present and has one of the values ['leap_seconds: none', 'leap_seconds: utc',"
    " 'leap_seconds: unknown']"
)


@dataclass(frozen=True, order=True)
class Finding:
    """One message of one checker."""

    checker: str
    check: str
    message: str


@cache
def _load() -> None:
    CheckSuite.load_all_available_checkers()


def findings(path: Path, checkers: tuple[str, ...] = CHECKERS) -> list[Finding]:
    """Everything the checkers say about a file; an exception inside them is an assertion error."""
    _load()
    with tempfile.TemporaryDirectory() as folder:
        output = Path(folder) / "report.json"
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # the checker warns of its own future
            _, errors = ComplianceChecker.run_checker(
                str(path), list(checkers), 0, "strict", None, None, str(output), "json"
            )
        assert not errors, f"the checker itself failed on {path}"
        report = json.loads(output.read_text())
    assert set(report) == set(checkers)
    return sorted(
        Finding(checker, check["name"], message)
        for checker in checkers
        for level in ("high_priorities", "medium_priorities", "low_priorities")
        for check in report[checker][level]
        for message in check["msgs"]
    )


def unexpected(
    path: Path, nameless: Iterable[str] = (), times: tuple[str, ...] = ("time",)
) -> list[Finding]:
    """
    Findings beyond the known ones, and known ones that did not come.

    Known are exactly: for each time coordinate the checker's own mistake about leap seconds; and
    that ACDD asks for a standard name of the variables in ``nameless``, for which the standard name
    table has no entry.
    """
    known = {_leap_seconds(name) for name in times} | {_no_name(name) for name in nameless}
    found = {f for f in findings(path) if not _is_remark(f)}
    absent = {replace(f, message=f"not reported: {f.message}") for f in known - found}
    return sorted(found - known) + sorted(absent)


def _leap_seconds(variable: str) -> Finding:
    return Finding("cf:1.11", "§4.4 Time Coordinate", LEAP_SECONDS.format(variable))


def _no_name(variable: str) -> Finding:
    check = f'variable "{variable}" missing the following attributes:'
    return Finding("acdd:1.3", check, "standard_name")


def _is_remark(finding: Finding) -> bool:
    # Says that the calendar's change of 1582 does not matter; listed under the check above.
    return finding.message.endswith("does not cross 1582-10-15T00:00Z")


def copy_group_to_root(path: Path, group: str, target: Path) -> Path:
    """Copy a group to the root of a scratch file, since the checker never opens groups."""
    with netCDF4.Dataset(path) as source, netCDF4.Dataset(target, "w") as scratch:
        scratch.setncatts({"Conventions": "CF-1.11", "title": group, "history": "copied"})
        node = source[group]
        scratch.setncatts({k: node.getncattr(k) for k in node.ncattrs()})
        for name, dimension in node.dimensions.items():
            scratch.createDimension(name, len(dimension))
        for variable in node.variables.values():
            _copy_variable(variable, scratch)
    return target


def _copy_variable(variable: netCDF4.Variable, scratch: netCDF4.Dataset) -> None:
    attributes = {name: variable.getncattr(name) for name in variable.ncattrs()}
    fill = attributes.pop("_FillValue", None)
    copied = scratch.createVariable(
        variable.name, variable.dtype, variable.dimensions, fill_value=fill
    )
    for each in (variable, copied):
        each.set_auto_maskandscale(False)
        each.set_auto_chartostring(False)
    copied.setncatts(attributes)
    copied[...] = variable[...]


def damaged(path: Path, target: Path, variable: str, **attributes: object) -> Path:
    """Copy of a file in which attributes of one variable are changed (None: taken away)."""
    shutil.copyfile(path, target)
    with netCDF4.Dataset(target, "a") as dataset:
        node = dataset[variable] if variable else dataset
        for name, value in attributes.items():
            if value is None:
                node.delncattr(name)
            else:
                node.setncattr(name, value)
    return target
