#!/usr/bin/env bash
# Source archives whose odd workbooks tests/ingest/test_torture.py reads; kept outside the checkout, fetched once.
# Usage: bash tests/fetch_sdists.sh [folder]; the default folder is the one that the test looks into.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

folder="${1:-${PINCHPOINT_SDISTS:-${XDG_CACHE_HOME:-$HOME/.cache}/pinchpoint/sdists}}"
python=.venv/bin/python
[ -x "$python" ] || python=python3
mkdir -p "$folder"

fetch() { # name, version, SHA-256 of the archive on the package index
    local file="$folder/$1-$2.tar.gz"
    if ! [ -f "$file" ]; then
        echo "tests/fetch_sdists.sh: fetching $1 $2 into $folder" >&2
        printf '%s==%s --hash=sha256:%s\n' "$1" "$2" "$3" >"$folder/wanted.txt"
        "$python" -m pip download --quiet --disable-pip-version-check --no-deps --no-binary :all: \
            --require-hashes --dest "$folder" --requirement "$folder/wanted.txt"
        rm -f "$folder/wanted.txt"
    fi
}

fetch xlsx2csv 0.8.6 618fc502612860de8ab8e3d6195e99ef332fffc68337f6b89e59690aad0d20b5
fetch tablib 3.10.0 781cfa9a42de8f33c52aff857fd0a04e483de4fd1c53eaaa9a6aeac62bad11de
