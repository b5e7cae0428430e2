"""Flag words and grades: which bit means what, said inside the file."""

from __future__ import annotations

from typing import Literal

import numpy as np
import numpy.typing as npt

from sunledger.archive.conventions import series_attributes
from sunledger.archive.specification import Attribute, VariableSpec
from sunledger.vocabulary import (
    CONDITIONS,
    GRADES,
    LONGEST_BY_MIDDLE,
    TESTS,
    WITHHELD,
    Bit,
    Quantity,
)

MINUTE = 60
"""[s]"""

Word = Literal["flags", "tested", "conditions", "withheld"]

# CF's `quality_flag` says how good a value is, `status_flag` what state its making was in.
_WORDS: dict[str, tuple[dict[str, Bit], str, str, str]] = {
    "flags": (TESTS, "quality_flag", "tests failed by", "0: no test that could run failed"),
    "tested": (
        TESTS,
        "status_flag",
        "tests that could run on",
        "a bit that is not set says that the same bit of the flags means nothing",
    ),
    "conditions": (
        CONDITIONS,
        "status_flag",
        "what the station's record says about",
        "0: nothing is recorded that bears on the interval",
    ),
    "withheld": (
        WITHHELD,
        "quality_flag",
        "why a value is withheld of",
        "0: the value is given",
    ),
}


def flag_word(quantity: Quantity, word: Word, values: npt.ArrayLike) -> VariableSpec:
    """
    A word of independent bits; every bit of the vocabulary is listed, so that files join.

    Parameters
    ----------
    quantity : Quantity
        What the word is about.
    word : str
        ``flags``, ``tested``, ``conditions`` or ``withheld``.
    values : array-like of int, shape (time,)
        Words.

    Returns
    -------
    variable : VariableSpec
        ``<quantity>_<word>``, int32 without fill value: with one, readers would turn the words into
        floats, on which bit tests fail.
    """
    bits, standard_name, what, comment = _WORDS[word]
    masks = np.array([bit.mask for bit in bits.values()], np.int32)
    attributes: dict[str, Attribute] = {
        "standard_name": standard_name,
        "long_name": f"{what} {quantity.long_name}",
        "valid_range": np.array([0, np.bitwise_or.reduce(masks)], np.int32),
        "flag_masks": masks,
        "flag_meanings": " ".join(bits),
        "comment": f"{comment}; {'; '.join(f'{b.name}: {b.meaning}' for b in bits.values())}",
    }
    return VariableSpec(
        f"{quantity.name}_{word}",
        ("time",),
        np.asarray(values),
        series_attributes(attributes, "qualityInformation"),
        "i4",
    )


def grade(quantity: Quantity, values: npt.ArrayLike) -> VariableSpec:
    """
    Summary grade of each value, by the rule that the configuration states.

    Parameters
    ----------
    quantity : Quantity
        What is graded.
    values : array-like of int, shape (time,)
        1 good, 2 not evaluated, 3 questionable, 4 bad, 9 missing.

    Returns
    -------
    variable : VariableSpec
        ``<quantity>_grade``, int8.
    """
    attributes: dict[str, Attribute] = {
        "standard_name": "aggregate_quality_flag",
        "long_name": f"summary grade of {quantity.long_name}",
        "flag_values": np.array(list(GRADES.values()), np.int8),
        "flag_meanings": " ".join(GRADES),
        "references": "IOC Manuals and Guides 54, volume 3 (2013), primary level flags",
        "comment": "derived from the flags and conditions by the rule in the configuration",
    }
    return VariableSpec(
        f"{quantity.name}_grade",
        ("time",),
        np.asarray(values),
        series_attributes(attributes, "qualityInformation"),
        "i1",
    )


def about_limits(interval: int) -> str:
    """
    What has to be said of the tests where intervals are longer than their limits were made for.

    Parameters
    ----------
    interval : int
        [s]

    Returns
    -------
    words : str
        Sentences after a blank; nothing for minutes.
    """
    if interval <= MINUTE:
        return ""
    said = " The published limits of the tests were set for one-minute means."
    if interval <= LONGEST_BY_MIDDLE:
        return said
    return said + " Closure uses the mean of the cosine of the zenith angle over the interval."
