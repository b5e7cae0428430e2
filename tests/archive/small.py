"""A small invented archive with one station, built as a run builds it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from archive.samples import minute_file, monthly_file
from sunledger.archive.change_pages import write_change_pages
from sunledger.archive.changes import Made
from sunledger.archive.manifest import InputFile, Manifest
from sunledger.archive.minute_counts import minute_counts
from sunledger.archive.specification import FileSpec
from sunledger.run.publish import Outcome, Publication, publish
from sunledger.vocabulary import TESTS

SOFTWARE = "sunledger 0.1.0"
CAUSE = "=certificate N-001: sensitivity, 8.5 to 8.4 <uV W-1 m2>"


def scaled(spec: FileSpec, names: tuple[str, ...], factor: float) -> FileSpec:
    """The same file with some series scaled."""
    variables = tuple(
        replace(v, data=v.data * np.float32(factor)) if v.name in names else v
        for v in spec.variables
    )
    return replace(spec, variables=variables)


def accounting(spec: FileSpec) -> tuple[dict[str, object], dict[str, object]]:
    """What a run notes of a minute file: numbers of values and of flags."""
    counts = minute_counts(spec)
    measured = list(counts["present"])
    raised = {
        n: {
            name: int(np.count_nonzero(spec[f"{n}_flags"].data & bit.mask))
            for name, bit in TESTS.items()
            if np.any(spec[f"{n}_flags"].data & bit.mask)
        }
        for n in measured
    }
    return counts, raised


def put(folder: Path, spec: FileSpec, made: Made, key: str = "k") -> Outcome:
    """Publish a file as a run does."""
    product, _, logger = made.product.partition("_")
    name = "_".join(filter(None, ("ossel", product, logger, made.period)))
    said, raised = accounting(spec) if product == "minute" else ({}, {})
    inputs = (InputFile("ossel/main_20310301.csv", "a" * 64, 12),)
    manifest = Manifest(product, "ossel", made.period, key, inputs, {"policy": "latest_before"})
    publication = Publication(
        name,
        spec,
        folder / "ossel" / product / f"{name}.nc",
        folder / "ossel" / "changes.jsonl",
        made,
        replace(manifest, accounting=said, flags_raised=raised),
    )
    return publish(publication)


def small_archive(folder: Path) -> Path:
    """A minute file in its second version, and a year of months."""
    first = Made("minute", "2031-03", "", "2031-04-05", SOFTWARE, "no such file yet")
    spec = minute_file(days=2)
    put(folder, spec, first)
    revised = replace(first, issued="2031-09-01", cause=CAUSE)
    put(folder, scaled(spec, ("ghi",), 1.25), revised, "k2")
    parts = {"2031-01": "a", "2031-02": "b", "2031-03": "c"}
    months = Made("monthly", "2031", "", "2031-04-05", SOFTWARE, "no such file yet", parts=parts)
    put(folder, monthly_file(), months)
    write_change_pages(folder / "ossel")
    return folder
