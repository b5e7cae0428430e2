"""The layers: imports go one way, every module has its test, importing does no work."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "pipeline" / "sunledger"
TESTS = ROOT / "tests"
MODULES = sorted(p.relative_to(PACKAGE) for p in PACKAGE.rglob("*.py"))
COMMON = {"config", "datasets", "vocabulary", "errors"}
ALLOWED = {
    "cli": {
        "run",
        "cli_archive",
        "cli_budget",
        "cli_campaign",
        "cli_look",
        "cli_report",
        "cli_review",
        "cli_visit",
        *COMMON,
    },
    "cli_budget": {"run", *COMMON},
    "cli_campaign": {"run", *COMMON},
    "cli_look": {"run", *COMMON},
    "cli_report": {"report", *COMMON},
    "cli_review": {"run", *COMMON},
    "cli_visit": {"run", "report", *COMMON},
    "cli_archive": {"run", "archive", *COMMON},
    "run": {"stages", "archive", "diagnosis", "report", *COMMON},
    "stages": {"physics", *COMMON},
    "archive": COMMON,
    "diagnosis": {"physics", "archive", *COMMON},
    "report": {"archive", "diagnosis", "physics", *COMMON},
    "config": {"vocabulary", "errors", "physics"},  # class tables of ISO 9060 are facts
    "physics": set(),
    "vocabulary": set(),
    "datasets": set(),
    "errors": set(),
}


def layer_of(module: Path) -> str:
    """Folder or top-level module that a file belongs to."""
    return module.parts[0].removesuffix(".py")


def imported_layers(path: Path) -> set[str]:
    """Layers of sunledger that a file imports, also inside functions."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        if isinstance(node, ast.ImportFrom) and node.module == "sunledger":
            names = [f"sunledger.{alias.name}" for alias in node.names if alias.name in ALLOWED]
        found |= {n.split(".")[1] for n in names if n.startswith("sunledger.")}
    return found


@pytest.mark.parametrize("module", MODULES, ids=str)
def test_imports_go_one_way(module: Path) -> None:
    """A module imports its own layer and the ones below it, and nothing above."""
    layer = layer_of(module)
    if layer == "__init__":
        return
    wrong = imported_layers(PACKAGE / module) - ALLOWED[layer] - {layer}
    assert not wrong, f"{module} imports {', '.join(sorted(wrong))}"


def test_every_module_has_its_test() -> None:
    """For pipeline/sunledger/a/b.py stands tests/a/test_b.py."""
    missing = [
        str(m)
        for m in MODULES
        if m.name != "__init__.py" and not (TESTS / m.parent / f"test_{m.name}").exists()
    ]
    assert missing == []


def test_help_starts_without_the_heavy_libraries() -> None:
    """`--help` must answer at once, so nothing heavy is imported before it is needed."""
    code = (
        "import sys\n"
        "from typer.testing import CliRunner\n"
        "from sunledger.cli import app\n"
        "result = CliRunner().invoke(app, ['--help'])\n"
        "assert result.exit_code == 0, result.output\n"
        "print(sorted({'pandas', 'xarray', 'pvlib', 'distributed', 'polars', 'netCDF4', 'pydantic'}"
        " & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_modules_stay_short() -> None:
    """No module above 400 lines, tests and sample generator included."""
    files = [*PACKAGE.rglob("*.py"), *TESTS.rglob("*.py"), *(ROOT / "sample_raw").rglob("*.py")]
    long = {
        str(f.relative_to(ROOT)): n
        for f in files
        if (n := len(f.read_text(encoding="utf-8").splitlines())) > 400
    }
    assert long == {}
