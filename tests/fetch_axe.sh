#!/usr/bin/env bash
# The accessibility checker that tests/ui/test_accessible.py puts into the pages; kept outside the checkout, fetched once.
# Usage: bash tests/fetch_axe.sh [folder]; the default folder is the one that the test looks into.
set -euo pipefail

version=4.14.1
archive_sum=e6b0ce02b84d892e2e33e403485e7f3d6c29e2be6df65daf44d89ba564139745
folder="${1:-${PINCHPOINT_AXE:-${XDG_CACHE_HOME:-$HOME/.cache}/pinchpoint/axe}}"
file="$folder/axe-$version.min.js"
[ -f "$file" ] && exit 0

if ! command -v npm >/dev/null 2>&1; then
    echo "tests/fetch_axe.sh: npm is missing; install it (apt-get install npm) and run this script again" >&2
    exit 1
fi
mkdir -p "$folder"
echo "tests/fetch_axe.sh: fetching axe-core $version into $folder" >&2
work="$(mktemp -d)"
trap 'rm -rf "$work"' EXIT
(cd "$work" && npm pack --silent "axe-core@$version" >/dev/null)
echo "$archive_sum  $work/axe-core-$version.tgz" | sha256sum --check --quiet
tar -xzf "$work/axe-core-$version.tgz" -C "$work" package/axe.min.js
mv "$work/package/axe.min.js" "$file"
