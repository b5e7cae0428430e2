"""Special functions, and when they are loaded."""

from __future__ import annotations

import subprocess
import sys

import pytest

from sunledger.physics.special import special


def test_quantiles_are_those_of_the_tables() -> None:
    """Student's t at 97.5 % with four and thirty degrees of freedom, printed in any table of it."""
    assert special.stdtrit(4, 0.975) == pytest.approx(2.776, abs=0.0005)
    assert special.stdtrit(30, 0.975) == pytest.approx(2.042, abs=0.0005)


def test_an_unknown_function_is_an_error() -> None:
    """As of the module itself."""
    with pytest.raises(AttributeError, match="no_such_law"):
        special.no_such_law(1.0)


def test_the_command_line_starts_without_them() -> None:
    """They are loaded by the first call, in a process of its own."""
    code = (
        "import sys, sunledger.cli, sunledger.run.job\n"
        "assert 'scipy.special' not in sys.modules\n"
        "from sunledger.physics.special import special\n"
        "special.ndtri(0.5)\n"
        "assert 'scipy.special' in sys.modules\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
