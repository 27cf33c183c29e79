#!/bin/sh
# What the tests of deploy/ need of the system: a second root to install into, and to boot.
# Installs what is missing as root; otherwise says what to install, as those tests run only as root.
set -eu
missing=
for pair in debootstrap:debootstrap systemd-nspawn:systemd-container systemd-analyze:systemd; do
    PATH=$PATH:/usr/sbin command -v "${pair%%:*}" >/dev/null || missing="$missing ${pair##*:}"
done
[ -n "$missing" ] || exit 0
if [ "$(id -u)" != 0 ]; then
    echo "The tests of the installer are left out; they run as root, with: apt install$missing" >&2
    exit 0
fi
export DEBIAN_FRONTEND=noninteractive
apt="apt-get -qq -y -o DPkg::Lock::Timeout=300"
$apt update >/dev/null
# shellcheck disable=SC2086  # a list of names
$apt install --no-install-recommends $missing >/dev/null </dev/null
