#!/usr/bin/env bash
# Everything from a fresh clone: system packages where they are needed, the environment, the checks, the tests.
# Arguments go to pytest: bash tests/run.sh tests/ui -x
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

find_browser() {
    local name
    for name in "${CHROMIUM:-}" chromium chromium-browser google-chrome google-chrome-stable microsoft-edge; do
        if [ -n "$name" ] && command -v "$name" >/dev/null 2>&1; then return 0; fi
    done
    return 1
}

if grep -rqs --include='*.py' -E '^\s*(import|from) playwright' tests && ! find_browser; then
    if [ "$(id -u)" -eq 0 ] && command -v apt-get >/dev/null 2>&1; then
        echo "tests/run.sh: installing Chromium for the browser tests" >&2
        apt-get update -qq
        DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
            chromium libatomic1 fonts-dejavu-core >/dev/null
    else
        echo "tests/run.sh: no Chromium found; as root: apt-get install chromium libatomic1 fonts-dejavu-core" >&2
    fi
fi

[ -x .venv/bin/python ] || python3 -m venv .venv
.venv/bin/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[test]'

bash tests/fetch_sdists.sh || echo "tests/run.sh: no source archives; tests/ingest/test_torture.py will say what is missing" >&2
bash tests/fetch_axe.sh || echo "tests/run.sh: no axe-core; tests/ui/test_accessible.py will say what is missing" >&2

.venv/bin/ruff check .
.venv/bin/ruff format --check .
.venv/bin/mypy
.venv/bin/lint-imports
exec .venv/bin/pytest -n 2 "$@"
