#!/usr/bin/env bash
# Makes the environment and runs all the tests. Arguments go to pytest.
# shellcheck source=workflows/environment.sh
source "$(dirname "${BASH_SOURCE[0]}")/environment.sh" "[test]"
cd "$ROOT"
exec "$PYTHON" -m pytest -n "${SUNLEDGER_TEST_WORKERS:-2}" "$@"
