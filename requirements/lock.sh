#!/bin/sh
# Renew the three lock files, with .venv's uv. run: the daemon; demo: run + demo; dev: everything.
set -eu
cd "$(dirname "$0")/.."
lock() {
    out=$1; shift
    .venv/bin/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-annotate \
        --custom-compile-command 'sh requirements/lock.sh' \
        pyproject.toml requirements/build.in "$@" -o "requirements/$out.lock"
}
lock run
lock demo --extra demo
lock dev --extra demo --extra dev
