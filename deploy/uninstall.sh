#!/bin/sh
# sudo sh deploy/uninstall.sh [--purge]
# Removes the service and the program. Configuration, secrets and data stay, for the next time;
# --purge removes them too, and the user drywind. Purged is purged: there is no way back.
set -eu

purge=no
case ${1:-} in
"") ;;
--purge) purge=yes ;;
*) echo "drywind: $1: no such option; allowed: --purge" >&2; exit 2 ;;
esac
[ "$(id -u)" = 0 ] || { echo "drywind: needs root; run: sudo sh deploy/uninstall.sh" >&2; exit 1; }

if [ -e /etc/systemd/system/drywind.service ]; then
    if [ -d /run/systemd/system ]; then systemctl --quiet stop drywind; fi
    systemctl --quiet disable drywind
fi
rm -rf /opt/drywind
rm -f /etc/systemd/system/drywind.service \
    /usr/local/bin/drywind \
    /usr/local/share/bash-completion/completions/drywind \
    /usr/local/share/zsh/site-functions/_drywind \
    /usr/local/share/fish/vendor_completions.d/drywind.fish
if [ -d /run/systemd/system ]; then systemctl daemon-reload; fi

if [ $purge = yes ]; then
    rm -rf /etc/drywind /var/lib/drywind /etc/systemd/system/drywind.service.d
    if getent passwd drywind >/dev/null; then userdel drywind; fi
    echo "drywind: removed, with its configuration, secrets and data"
elif [ -e /etc/drywind ] || [ -e /var/lib/drywind ]; then
    echo "drywind: removed; /etc/drywind and /var/lib/drywind stay"
    echo "(sudo sh deploy/uninstall.sh --purge removes them too)"
else
    echo "drywind: nothing is left of it here"
fi
