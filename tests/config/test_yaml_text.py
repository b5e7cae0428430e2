"""YAML as a person writes it: every trap refused with the line and what to write instead."""

from __future__ import annotations

import pickle
import re
from pathlib import Path

import pytest
import yaml

from sunledger.config.loading import load_yaml
from sunledger.config.yaml_text import SourceLines, dotted, parse_file, parse_text, trap
from sunledger.errors import ConfigError

# File in bad_configs/yaml → how its fault reads behind the file's name.
FAULTS = {
    "anchor_and_alias": ":1: anchors (&) and aliases (*) are not allowed; write the entry out",
    "binary_rubbish": ":1: must be UTF-8 text; save the file as UTF-8 (got byte 0x89)",
    "colon_in_text": ":2: not valid YAML: mapping values are not allowed",
    "control_character": ":2: control character; the file must be plain text",
    "digits_grouped": ':1: a: would be read as one number; write it without _ or quote it: "1_000"',
    "duplicate_key": ":3: a: given twice; first on line 1",
    "duplicate_key_deep": ":4: entries[0] (osr-1).found.size: given twice; first on line 3",
    "empty": ":1: is empty; expected a mapping",
    "exponent_without_point": ':1: a: would be read as text; write 1000.0, or quote it: "1e3"',
    "exponent_without_sign": ':1: a: would be read as text; write 2500.0, or quote it: "2.5e3"',
    "hexadecimal": ":1: serial_number: would be read to another base; write it in decimals",
    "infinite": ":1: a: is not a finite number; leave the entry out or quote it",
    "key_without_name": ":2: keys must be words or whole numbers",
    "latin_1": ":2: must be UTF-8 text; save the file as UTF-8 (got byte 0xe4)",
    "leading_zero": ":1: serial_number: would be read to base 8; write it without leading zero",
    "list_at_top": ":2: must be a mapping (`key: value` lines) at the top level",
    "merge_key": ":2: a.<<: merge keys (<<) are not allowed; write the entries out",
    "nested_too_deeply": ":1: nested deeper than 40 levels",
    "not_a_number": ":1: a: is not a finite number",
    "only_comments": ":1: is empty; expected a mapping",
    "open_bracket": ":2: not valid YAML: while parsing a flow sequence begun on line 1",
    "open_quote": ":3: not valid YAML: while scanning a quoted scalar begun on line 2",
    "sexagesimal_offset": ':1: utc_offset: would be read as a number to base 60; quote it: "-3:00"',
    "sexagesimal_time": ':3: b.c: would be read as a number to base 60; quote it: "12:30:00"',
    "tab": ":2: tab character; indent and separate with blanks (got tabs on 2 lines)",
    "tag": ":1: tags are not allowed; leave it out",
    "text_at_top": ":1: must be a mapping",
    "two_documents": ":2: second document in one file; allowed: one",
    "unquoted_no": ':2: b: could mean true or false; write true or false, or quote the word: "no"',
    "unquoted_on_as_key": ":1: on: could mean true or false",
    "unquoted_y": ":1: b[1]: could mean true or false",
}


@pytest.mark.parametrize("fault", FAULTS)
def test_fault_is_named_with_its_line(fault: str, bad_configs: Path) -> None:
    """Each way of writing YAML wrongly is refused with file, line, field and remedy."""
    path = bad_configs / "yaml" / f"{fault}.yaml"
    with pytest.raises(ConfigError, match=re.escape(str(path) + FAULTS[fault])):
        load_yaml(path)


def test_every_wrong_file_is_tested(bad_configs: Path) -> None:
    """No file in bad_configs/yaml is without its expectation."""
    assert {p.stem for p in (bad_configs / "yaml").iterdir()} == set(FAULTS)


@pytest.mark.parametrize("name", ["nowhere.yaml", "folder.yaml"])
def test_missing_file_and_folder(name: str, tmp_path: Path) -> None:
    """A path that is no file is a fault, not an OSError."""
    (tmp_path / "folder.yaml").mkdir()
    with pytest.raises(ConfigError, match=rf"{name}: (the file does not exist|cannot be read)"):
        load_yaml(tmp_path / name)


# The YAML 1.1 specification's types (yaml.org/type/bool, int, float; 2005) give these readings;
# they are compared with PyYAML's own resolver, which is outside the project.
@pytest.mark.parametrize(
    "text",
    ["yes", "No", "ON", "off", "12:30:00", "-3:00", "010", "0x1F", "0b11", "1_000", ".inf"],
)
def test_refused_words_are_those_that_a_yaml_reader_changes(text: str) -> None:
    """Each refused scalar would otherwise come out as something else than its digits or letters."""
    assert trap(text) is not None
    assert str(yaml.safe_load(text)) != text


@pytest.mark.parametrize(
    "text", ["true", "False", "10", "-0.5", "0", "0.25", "1.5e+3", "null", "no one", "2031-03-25"]
)
def test_harmless_scalars_pass(text: str) -> None:
    """Plain numbers, true and false, sentences and dates are no traps."""
    assert trap(text) is None


@pytest.mark.parametrize("written", ["1e3", "2.5e3", "1E-3", "-4e+2", ".5e1"])
def test_advice_on_exponents_is_read_as_the_same_number(written: str) -> None:
    """What the message says to write is a number of the same size for a YAML 1.1 reader."""
    advice = re.search(r"write (\S+),", trap(written) or "")
    assert advice is not None
    assert yaml.safe_load(advice[1]) == float(written)


def test_times_stay_text_and_numbers_are_numbers() -> None:
    """No dates are constructed; integers, floats, true, false and null are."""
    text = "a: 2031-03-25\nb: 2031-03-25 12:30:00\nc: 7\nd: 1.5e+3\ne: true\nf:\n1: '010'\n"
    parsed = parse_text(text, "x.yaml")
    assert parsed.faults == ()
    assert parsed.data == {
        "a": "2031-03-25",
        "b": "2031-03-25 12:30:00",
        "c": 7,
        "d": 1500.0,
        "e": True,
        "f": None,
        "1": "010",
    }


def test_quoted_traps_are_text() -> None:
    """Quoting is the way out of every trap, in keys as well."""
    parsed = parse_text('a: "no"\nb: \'12:30\'\n"on": "1e3"\nc: |\n  off\n', "x.yaml")
    assert parsed.faults == ()
    assert parsed.data == {"a": "no", "b": "12:30", "on": "1e3", "c": "off\n"}


def test_all_traps_of_a_file_at_once() -> None:
    """Every trap is reported, each on its line."""
    parsed = parse_text("a: no\nb: [010, {c: 1e3}]\na: 12:30\n", "x.yaml")
    assert sorted((f.line, f.field) for f in parsed.faults) == [
        (1, "a"),
        (2, "b[0]"),
        (2, "b[1].c"),
        (3, "a"),
        (3, "a"),
    ]


def test_byte_order_mark_and_windows_line_ends(tmp_path: Path) -> None:
    """Files saved by other editors are read, with the right lines."""
    path = tmp_path / "x.yaml"
    path.write_bytes(b"\xef\xbb\xbfa: 1\r\nb:\r\n  c: 2\r\n")
    parsed = parse_file(path)
    assert parsed.data == {"a": 1, "b": {"c": 2}}
    assert parsed.source.line("b", "c") == 3


def test_lines_of_entries() -> None:
    """A key's line is its own; an item's is its first; what is not written has its parent's."""
    source = parse_text("a: 1\nb:\n  - c: 2\n    d:\n      e: 3\n  - c: 4\n", "x.yaml").source
    places = [(), ("b",), ("b", 0), ("b", 0, "d"), ("b", 0, "d", "e"), ("b", 1, "c")]
    assert [source.line(*p) for p in places] == [1, 2, 3, 4, 5, 6]
    assert source.line("b", 1, "z", 0) == 6
    assert source.line("z") == 1


def test_dotted_names() -> None:
    """Names of entries carry the identifiers of the list's items."""
    loc = ("entries", 3, "found", "size")
    assert dotted(loc, {("entries", 3): "osr-0042"}) == "entries[3] (osr-0042).found.size"
    assert dotted(()) == ""
    assert dotted(("a", 0, 1)) == "a[0][1]"


def test_fault_and_lines_survive_pickling(bad_configs: Path) -> None:
    """Errors and line tables travel between processes."""
    with pytest.raises(ConfigError) as caught:
        load_yaml(bad_configs / "yaml" / "unquoted_no.yaml")
    again = pickle.loads(pickle.dumps(caught.value))
    assert str(again) == str(caught.value)
    assert again.faults == caught.value.faults
    lines = SourceLines("x.yaml", {("a",): 3})
    assert pickle.loads(pickle.dumps(lines)) == lines
