#!/bin/sh
# Installs drywind and what its tests need, checks style and types, and runs the tests.
# Arguments go to pytest. Debian packages that are missing are installed where root runs this.
set -eu
cd "$(dirname "$0")/.."
sh tests/needs.sh
sh requirements/install.sh dev
.venv/bin/ruff check
.venv/bin/ruff format --check
.venv/bin/mypy
exec .venv/bin/pytest -n auto --dist loadfile "$@"
