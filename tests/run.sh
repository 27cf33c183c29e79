#!/bin/sh
# Installs drywind and what its tests need into .venv, checks style and types, and runs the tests.
# Arguments go to pytest. Debian packages that are missing are installed where root runs this.
set -eu
cd "$(dirname "$0")/.."
missing=$(grep -v '^#' requirements/debian-tests.txt | while read -r package; do
    dpkg -s "$package" >/dev/null 2>&1 || printf ' %s' "$package"
done)
if [ -n "$missing" ] && [ "$(id -u)" = 0 ]; then
    apt-get update -q
    # shellcheck disable=SC2086 - a list of packages
    DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends $missing
elif [ -n "$missing" ]; then
    echo "The tests need Debian packages that are missing here. Install them, then run this again:" >&2
    echo "    sudo apt install$missing" >&2
    exit 1
fi
sh requirements/install.sh dev
sh tests/needs.sh
.venv/bin/ruff check
.venv/bin/ruff format --check
.venv/bin/mypy
exec .venv/bin/pytest -n auto --dist loadfile "$@"
