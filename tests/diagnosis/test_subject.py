"""What findings are about."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sunledger.diagnosis.selection import Components
from sunledger.diagnosis.subject import Size, finding_about, severity_of, subject_of


def test_means_leave_out_what_is_missing(dry_month: Components) -> None:
    """A gap is no zero."""
    gap = np.where(np.arange(dry_month.ghi.size) < 100, np.nan, dry_month.ghi)
    subject = subject_of(replace(dry_month, ghi=gap), "kpn", "2031-08")
    assert subject.means["ghi"] == np.mean(dry_month.ghi[100:])
    nothing = replace(dry_month, dni=np.full(dry_month.dni.size, np.nan))
    assert subject_of(nothing, "kpn", "2031-08").means["dni"] == 0.0


def test_a_finding_has_a_symmetric_interval(dry_month: Components) -> None:
    """And the names of its month."""
    subject = subject_of(dry_month, "kpn", "2031-08")
    found = finding_about(subject, "direct_lost", "dni", Size(5.0, 2.0, "min"), "look")
    assert (found.station, found.period, found.lower, found.upper) == ("kpn", "2031-08", 3.0, 7.0)


def test_severity_follows_the_monthly_mean() -> None:
    """Whatever the sign."""
    assert [severity_of(e) for e in (0.1, -0.5, 2.0, -9.0)] == ["note", "look", "act", "act"]
