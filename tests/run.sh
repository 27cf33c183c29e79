#!/bin/sh
# Installs drywind and what its tests need into .venv, checks style and types, and runs the tests.
# Arguments go to pytest.
set -eu
cd "$(dirname "$0")/.."
sh requirements/install.sh dev
sh tests/needs.sh
.venv/bin/ruff check
.venv/bin/ruff format --check
.venv/bin/mypy
exec .venv/bin/pytest -n auto --dist loadfile "$@"
