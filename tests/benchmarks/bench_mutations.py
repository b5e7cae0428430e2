"""Damaged files by the thousand: no crash, every line accounted for, no undamaged line lost.

Run: ``python tests/benchmarks/bench_mutations.py [files] [first seed]``; 10,000 files by default.
Five hundred of them are part of the tests. Each seed makes one table in one of several writings,
damages it, perhaps compresses it and damages that, and reads it back.
"""

from __future__ import annotations

import bz2
import gzip
import lzma
import re
import sys
import tempfile
import time
import zlib
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np

import raw_tables
from sunledger.config.models.station import Layout, Logger, Station
from sunledger.stages.columns import find_columns, header_names
from sunledger.stages.ingest import ingest
from sunledger.stages.lines import Kind, judge_line
from sunledger.stages.rawfiles import FileReadings, read_file
from sunledger.stages.timestamps import compile_format

Rng = np.random.Generator
ALL = (-(2**40), 2**40)
ROWS = 60
WRITINGS: dict[str, dict[str, object]] = {
    "comma": {},
    "quoted": {"quote": '"'},
    "semicolon": {"separator": "semicolon", "decimal": "comma"},
    "tab": {"separator": "tab"},
    "blanks": {"separator": "blanks", "columns": ("day", "clock")},
}
MARKS = {"comma": ",", "semicolon": ";", "tab": "\t", "blanks": " "}


def station_of(layout: Layout) -> tuple[Station, Logger]:
    """A station with one logger that writes so."""
    station = raw_tables.station(main=raw_tables.logger(layout))
    return station, station.loggers["main"]


def table(rng: Rng, name: str) -> tuple[Layout, str, dict[str, tuple[int, float, float]]]:
    """Layout, header, and what every data line says."""
    layout = raw_tables.layout(**WRITINGS[name])
    mark = MARKS[layout.separator]
    rows: dict[str, tuple[int, float, float]] = {}
    for label in (raw_tables.MARCH + 60 * np.arange(ROWS)).tolist():
        a, b = (round(float(v), 3) for v in rng.normal(0, 50, 2))
        fields = [raw_tables.written(label), f"{a:.3f}", f"{b:.3f}"]
        if layout.decimal == "comma":
            fields = [f.replace(".", ",") for f in fields]
        if layout.quote:
            fields = [f'"{f}"' for f in fields]
        rows[mark.join(fields)] = (label, a, b)
    return layout, mark.join([*layout.time.columns, "a", "b"]), rows


# --- damage -----------------------------------------------------------------------------------


def flipped(data: bytes, rng: Rng) -> bytes:
    """Up to five bytes changed."""
    out = bytearray(data)
    for at in rng.integers(0, len(out), rng.integers(1, 6)).tolist():
        out[at] ^= int(rng.integers(1, 256))
    return bytes(out)


def _two(data: bytes, rng: Rng) -> tuple[int, int]:
    a, b = sorted(rng.integers(0, len(data) + 1, 2).tolist())
    return a, b


def cut_out(data: bytes, rng: Rng) -> bytes:
    """A stretch is missing, over line ends or within a line."""
    a, b = _two(data, rng)
    return data[:a] + data[min(b, a + 300) :]


def cut_off(data: bytes, rng: Rng) -> bytes:
    """The end is missing."""
    return data[: int(rng.integers(1, len(data) + 1))]


def repeated(data: bytes, rng: Rng) -> bytes:
    """A stretch comes twice."""
    a, b = _two(data, rng)
    return data[:b] + data[a:]


def swapped(data: bytes, rng: Rng) -> bytes:
    """Two neighbouring blocks of a device change places."""
    size = int(rng.choice([64, 128, 512]))
    blocks = [data[i : i + size] for i in range(0, len(data), size)]
    at = int(rng.integers(0, max(1, len(blocks) - 1)))
    blocks[at : at + 2] = blocks[at : at + 2][::-1]
    return b"".join(blocks)


def interleaved(data: bytes, rng: Rng) -> bytes:
    """Two writers at once: the lines of both halves in turn, or stretches of them."""
    lines = data.splitlines(keepends=True)
    half = len(lines) // 2
    step = int(rng.integers(1, 5))
    first, second = lines[:half], lines[half:]
    mixed = [
        line
        for i in range(0, len(second), step)
        for line in (*first[i : i + step], *second[i : i + step])
    ]
    return b"".join(mixed)


def zeroed(data: bytes, rng: Rng) -> bytes:
    """A stretch of NUL bytes put in or put over."""
    a, b = _two(data, rng)
    b = min(b, a + 200)
    return data[:a] + b"\0" * (b - a) + data[b if rng.random() < 0.5 else a :]


def other_ends(data: bytes, rng: Rng) -> bytes:
    """Line ends of other systems from some place on."""
    at = int(rng.integers(0, len(data)))
    return data[:at] + data[at:].replace(b"\n", b"\r\n" if rng.random() < 0.5 else b"\r")


DAMAGE: tuple[Callable[[bytes, Rng], bytes], ...] = (
    flipped, cut_out, cut_off, repeated, swapped, interleaved, zeroed, other_ends,
)  # fmt: skip
PACKERS: dict[str, tuple[Callable[[bytes], bytes], Callable[[], object]]] = {
    "gz": (lambda d: gzip.compress(d, mtime=0), lambda: zlib.decompressobj(wbits=31)),
    "bz2": (bz2.compress, bz2.BZ2Decompressor),
    "xz": (lzma.compress, lzma.LZMADecompressor),
}


def packed(data: bytes, rng: Rng) -> tuple[bytes, bytes, bool]:
    """Compressed and cut: the file, what the library alone gets back of it, whether it is cut."""
    pack, unpacker = PACKERS[str(rng.choice(list(PACKERS)))]
    whole = pack(data)
    cut = whole[: int(rng.integers(12, len(whole) + 1))]
    try:
        back = unpacker().decompress(cut)  # type: ignore[attr-defined]
    except (EOFError, OSError, lzma.LZMAError, zlib.error):
        back = b""
    return cut, back, len(cut) < len(whole)


# --- what must hold ---------------------------------------------------------------------------


def attack(seed: int, root: Path) -> None:
    """One damaged file; an AssertionError says what does not hold."""
    rng = np.random.default_rng(seed)
    layout, header, rows = table(rng, str(rng.choice(list(WRITINGS))))
    data = raw_tables.joined([header, *rows])
    for _ in range(int(rng.integers(1, 4))):
        data = DAMAGE[int(rng.integers(len(DAMAGE)))](data, rng) or b"\n"
    stored, cut = data, False
    if rng.random() < 0.3:
        stored, data, cut = packed(data, rng)
    raw = raw_tables.stored(root, "a.txt", stored)
    station, logger = station_of(layout)
    found = read_file(raw, logger, *ALL)
    ds = ingest([raw], station, "main", *ALL)  # asserts the sum of the account itself
    accounted = len(found.label) + len(found.rejected)
    assert found.fault or accounted == found.data_lines == sum(found.label_counts.values())
    assert found.fault or ds.attrs["accounting"]["data_lines"] == found.data_lines
    lines = _lines(data, cut)
    _nothing_lost(lines, header, rows, found)
    if _sound(lines, header):
        _nothing_invented(lines, header, logger, found)


def _lines(data: bytes, cut: bool) -> list[str]:
    lines = re.split(r"\r\n|\n|\r", data.decode("latin-1"))
    return lines[:-1] if cut else lines


def _sound(lines: list[str], header: str) -> bool:
    """Whether the header is whole, and no line is a damaged copy of it."""
    return lines[:1] == [header] and all(n == header for n in lines if header[:3] in n)


def _nothing_invented(lines: list[str], header: str, logger: Logger, found: FileReadings) -> None:
    """Every reading is what the rule for single lines makes of its line."""
    layout = logger.layouts[0]
    names = header_names(header.encode(), layout) or ()
    columns = find_columns(names, layout, logger.channels)
    stamp = compile_format(layout.time, logger.utc_offset)
    values = zip(*(v.tolist() for v in found.values.values()), strict=True)
    for number, label, row in zip(found.line.tolist(), found.label.tolist(), values, strict=True):
        if number <= len(lines):
            verdict = judge_line(lines[number - 1].encode("latin-1"), layout, columns, stamp)
            assert verdict.kind is Kind.GOOD, f"line {number} is read: {verdict.reason}"
            assert repr((verdict.label, verdict.values)) == repr((label, row))


def _nothing_lost(
    lines: list[str], header: str, rows: dict[str, tuple[int, float, float]], found: FileReadings
) -> None:
    """Every whole line of the original is read with its values, or else named as rejected."""
    read = Counter(
        zip(found.label.tolist(), *(v.tolist() for v in found.values.values()), strict=True)
    )
    named = {rejection.line for _, rejection in found.rejected}
    sound = _sound(lines, header)
    for number, line in enumerate(lines, 1):
        if line not in rows:
            continue
        told = number in named or bool(found.fault)
        if sound:
            assert not told, f"line {number} is whole, but rejected"
        if not told:
            assert read[rows[line]] > 0, f"line {number} is whole, but lost"
            read[rows[line]] -= 1


def main(files: int, first: int) -> None:
    """Attack, and print what does not hold."""
    begin, broken = time.perf_counter(), []
    slowest = 0.0
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(first, first + files):
            started = time.perf_counter()
            try:
                attack(seed, Path(folder))
            except Exception as error:  # a crash is a finding like any other
                broken.append(f"seed {seed}: {type(error).__name__}: {error}")
            slowest = max(slowest, time.perf_counter() - started)
    taken = time.perf_counter() - begin
    print(
        f"{files} damaged files in {taken:.0f} s, slowest {slowest:.2f} s: {len(broken)} findings"
    )
    print("\n".join(broken[:20]))


if __name__ == "__main__":
    main(*(int(word) for word in (*sys.argv[1:3], *("10000", "0")[len(sys.argv[1:3]) :])))
