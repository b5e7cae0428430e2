#!/usr/bin/env bash
# Makes the environment and runs all the tests. Arguments go to pytest.
# shellcheck source=workflows/environment.sh
source "$(dirname "${BASH_SOURCE[0]}")/environment.sh" "[test]"
cd "$ROOT"
# Rules of accessibility for the pages; their tests are skipped where npm or Chromium is missing.
if [ ! -d build/node/node_modules/axe-core ] && command -v npm >/dev/null; then
  npm install --silent --no-audit --no-fund --prefix build/node axe-core@4.14.1 >&2 ||
    echo "axe-core could not be installed: accessibility of pages is not tested" >&2
fi
exec "$PYTHON" -m pytest -n "${SUNLEDGER_TEST_WORKERS:-2}" "$@"
