#!/bin/sh
# sh requirements/install.sh run|demo|dev
# Makes .venv in the project's folder and installs the locked dependencies (with their hashes) and
# drywind itself. Does nothing that is done already. Needs Python 3.11 or later, 64 bits.
set -eu
cd "$(dirname "$0")/.."
want=$1
lock="requirements/$want.lock"

find_python() {
    for python in python3 python3.14 python3.13 python3.12 python3.11; do
        if command -v "$python" >/dev/null 2>&1 &&
            "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            echo "$python"
            return
        fi
    done
    echo "drywind needs Python 3.11 or later; install it with: apt install python3" >&2
    exit 1
}

if [ ! -x .venv/bin/python ] || ! .venv/bin/python -m pip --version >/dev/null 2>&1; then
    python=$(find_python)
    if ! "$python" -c 'import sys; sys.exit(sys.maxsize < 2**32)'; then
        echo "drywind needs a 64-bit system; this one has 32 bits (on a Raspberry Pi: install" >&2
        echo "Raspberry Pi OS 64-bit), because the numeric packages have no 32-bit builds." >&2
        exit 1
    fi
    if ! "$python" -m venv --clear .venv >/dev/null 2>&1; then
        rm -rf .venv
        sudo=""
        [ "$(id -u)" = 0 ] || sudo="sudo "
        echo "Python's venv module is missing here. Install it, then run this again:" >&2
        echo "    ${sudo}apt install python3-venv" >&2
        exit 1
    fi
fi

stamp=$(cat "$lock" pyproject.toml | cksum)
if [ "$(cat ".venv/installed-$want" 2>/dev/null)" != "$stamp" ]; then
    echo "Installing drywind's locked dependencies ($want) into .venv; the first time takes a minute or two."
    # Wheels only, but for one small pure-Python oracle of the tests that is published without one.
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --require-hashes \
        --only-binary :all: --no-binary psychrolib --use-pep517 -r "$lock"
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation \
        --editable .
    echo "$stamp" >".venv/installed-$want"
fi
