"""A reviewer's decisions."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from sunledger.config.models.base import parse_utc
from sunledger.config.models.review import Decision, Review

DECISION = {
    "id": "r-1",
    "from": "2031-02-01",
    "until": "2031-02-02",
    "quantities": ["ghi"],
    "decision": "reject",
    "reason": "snow on the dome",
    "role": "reviewer",
    "decided": "2031-03-01",
}


def test_decision_is_read() -> None:
    """Times become seconds; a decision may be dated after its interval."""
    decision = Decision.model_validate(DECISION)
    assert decision.until - decision.time == 86400
    assert decision.decided == parse_utc("2031-03-01")


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"until": "2031-02-01"}, "must be later than from"),
        ({"decision": "perhaps"}, "'accept' or 'reject'"),
        ({"reason": " "}, "reason"),
    ],
)
def test_decisions_that_decide_nothing(changes: dict[str, Any], match: str) -> None:
    """An empty interval, an unknown word and a missing reason are refused."""
    with pytest.raises(ValidationError, match=match):
        Decision.model_validate({**DECISION, **changes})


def test_empty_review() -> None:
    """A new station has decided nothing yet."""
    review = Review.model_validate({"decisions": []})
    assert (review.decisions, review.finished_months, review.waived_certificates) == ((), (), ())
    with pytest.raises(ValidationError, match="finished_months"):
        Review.model_validate({"finished_months": ["2031-13"]})
