# Makes the pinned Python environment in build/venv and installs sunledger into it.
# Sourced by the scripts beside it; sets ROOT and PYTHON. First argument: extras, such as [test].
set -euo pipefail
ROOT="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"
EXTRAS="${1:-}"
VENV="${SUNLEDGER_VENV:-$ROOT/build/venv}"
BASE_PYTHON="${SUNLEDGER_PYTHON:-python3}"

if ! "$BASE_PYTHON" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
  echo "Python 3.11 or later is needed; name it with SUNLEDGER_PYTHON=/path/to/python3.11" >&2
  exit 2
fi
if [ ! -x "$VENV/bin/python" ]; then
  "$BASE_PYTHON" -m venv "$VENV"
fi
PYTHON="$VENV/bin/python"
# Installing again is skipped while neither the pins nor the project file have changed.
STAMP="$VENV/installed-$(cat "$ROOT/pyproject.toml" "$ROOT/constraints.txt" "$ROOT/pipeline/sunledger/__init__.py" |
  sha256sum | cut -c1-16)$EXTRAS"
if [ ! -e "$STAMP" ]; then
  echo "installing sunledger$EXTRAS into $VENV"
  "$PYTHON" -m pip install --quiet --disable-pip-version-check \
    --constraint "$ROOT/constraints.txt" --editable "$ROOT$EXTRAS"
  touch "$STAMP"
fi
