#!/bin/sh
# The Debian packages the tests need beside python3 and python3-venv: installed where root runs
# this, named where somebody else does. The last three are for the tests of deploy/, which set up
# and boot a second root: only root runs those.
set -eu
needed="chromium fonts-dejavu-core"
[ "$(id -u)" != 0 ] || needed="$needed debootstrap systemd-container systemd"
missing=
for package in $needed; do
    dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q "ok installed" ||
        missing="$missing $package"
done
[ -n "$missing" ] || exit 0
if [ "$(id -u)" != 0 ]; then
    echo "The tests need Debian packages that are missing here. Install them, then run this again:" >&2
    echo "    sudo apt install$missing" >&2
    exit 1
fi
export DEBIAN_FRONTEND=noninteractive
apt="apt-get -qq -y -o DPkg::Lock::Timeout=300"
$apt update >/dev/null
# shellcheck disable=SC2086  # a list of names
$apt install --no-install-recommends $missing >/dev/null </dev/null
