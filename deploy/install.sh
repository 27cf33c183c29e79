#!/bin/sh
# sudo sh deploy/install.sh
# Installs drywind as a service on Debian, Ubuntu or Raspberry Pi OS (64-bit), or brings an installed
# one up to this checkout. Run it as often as you like: it does only what is not done yet, keeps
# configuration and data, and leaves the version before in place if the new one does not come up.
set -eu
umask 022

SOURCE=$(cd "$(dirname "$0")/.." && pwd)
OPT=/opt/drywind
ETC=/etc/drywind
STATE=/var/lib/drywind
UNIT=/etc/systemd/system/drywind.service

say() { echo "drywind: $*"; }
die() { echo "drywind: $*" >&2; exit 1; }
is_up() { running_systemd && systemctl --quiet is-active drywind; }
running_systemd() { [ -d /run/systemd/system ]; }
as_drywind() { (cd / && umask 077 && exec runuser -u drywind -- env HOME="$STATE" "$@"); }

# --- what this machine must be -----------------------------------------------------------------

refuse_other_machines() {
    [ "$(id -u)" = 0 ] || die "needs root; run: sudo sh deploy/install.sh"
    command -v apt-get >/dev/null ||
        die "this installer is for Debian, Ubuntu and Raspberry Pi OS; see deploy/README.md for others"
    case $(dpkg --print-architecture) in
    amd64 | arm64) ;;
    *) die "needs a 64-bit system on x86-64 or ARM; this one is $(dpkg --print-architecture)" \
        "(on a Raspberry Pi 3 or later: install Raspberry Pi OS 64-bit)" ;;
    esac
    command -v systemctl >/dev/null ||
        die "needs systemd, and this system has none; see deploy/Containerfile for another way"
}

find_python() {
    for python in python3 python3.14 python3.13 python3.12 python3.11; do
        if "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            command -v "$python"
            return
        fi
    done
}

get() {
    say "installing $* from this system's packages"
    apt="apt-get -qq -y -o DPkg::Lock::Timeout=300"
    export DEBIAN_FRONTEND=noninteractive
    { $apt update && $apt install --no-install-recommends "$@"; } >/dev/null </dev/null ||
        die "could not install $*; is the network up? Nothing else has been changed"
}

need_packages() {
    command -v python3 >/dev/null || get python3
    python=$(find_python)
    [ -n "$python" ] || die "needs Python 3.11 or later: Debian 12, Ubuntu 24.04, Raspberry Pi OS 12"
    "$python" -c 'import sys; sys.exit(sys.maxsize < 2**32)' ||
        die "needs a 64-bit Python; $python has 32 bits"
    "$python" -c 'import ensurepip, venv' 2>/dev/null || get "${python##*/}-venv"
    [ -s /etc/ssl/certs/ca-certificates.crt ] || get ca-certificates
}

# --- the program, a folder for each version ----------------------------------------------------

# The version, what its files hold, and the Python it is built for.
name_release() {
    files="service/drywind requirements/run.lock pyproject.toml config.example.toml README.md
        LICENSE deploy/drywind.service deploy/drywind"
    # shellcheck disable=SC2086  # a list of names
    digest=$(cd "$SOURCE" && find $files -type f ! -name '*.pyc' | LC_ALL=C sort |
        xargs sha256sum | sha256sum | cut -c1-8)
    abi=$("$python" -c 'import sys; print("py%d%d" % sys.version_info[:2])')
    libraries=$(sha256sum <"$SOURCE/requirements/run.lock" | cut -c1-8)-$abi
    version=$(sed -n 's/^version = "\(.*\)"$/\1/p' "$SOURCE/pyproject.toml")
    release=$version-$digest-$abi
}

# build KIND NAME [WORDS]: makes a folder of $OPT whole, or not at all.
build() {
    folder=$OPT/$1/$2
    if [ -e "$folder/complete" ]; then
        return
    fi
    say "building $1/$2${3:+ ($3)}"
    rm -rf "$folder"
    mkdir -p "$folder"
    "fill_$1" "$folder" || {
        rm -rf "$folder"
        die "could not build $1/$2 (network? disk?); what was installed before is untouched"
    }
    touch "$folder/complete"
}

# What drywind uses, half a gigabyte: built anew only when the lock file changes. Wheels only, and
# only those whose hashes are in it.
fill_libraries() {
    "$python" -m venv "$1" &&
        "$1/bin/python" -m pip --quiet --disable-pip-version-check --no-input install \
            --require-hashes --only-binary :all: -r "$SOURCE/requirements/run.lock"
}

# drywind itself, small: finds its libraries by the link beside it.
fill_releases() {
    checkout=$1/checkout
    "$python" -m venv --without-pip "$1" &&
        mkdir -p "$1/share" "$checkout/service" &&
        ln -s "../../libraries/$libraries" "$1/libraries" &&
        packages=$(cd "$1" && echo lib/python3*/site-packages) &&
        echo "$1/libraries/$packages" >"$1/$packages/libraries.pth" &&
        cp -R "$SOURCE/service/drywind" "$checkout/service/" &&
        (cd "$SOURCE" && cp pyproject.toml README.md LICENSE config.example.toml "$checkout") &&
        "$1/libraries/bin/python" -m pip --python "$1/bin/python" --quiet --no-input \
            --disable-pip-version-check install --no-index --no-deps --no-build-isolation \
            "$checkout" &&
        rm -rf "$checkout" &&
        cp "$SOURCE/deploy/drywind.service" "$SOURCE/deploy/drywind" "$1/share/" &&
        for shell in bash zsh fish; do
            _DRYWIND_COMPLETE=${shell}_source "$1/bin/drywind" >"$1/share/$shell" || return 1
        done
}

# put FROM TO MODE: unless that is what is there already.
put() {
    if cmp -s "$1" "$2" && [ "$(stat -c %a "$2")" = "$3" ]; then
        return 0
    fi
    install -D -m "$3" "$1" "$2"
    changed=yes
}

activate() {
    share=$OPT/releases/$1/share
    at_work=$(readlink "$OPT/current" 2>/dev/null || true)
    if [ "$at_work" != "releases/$1" ]; then
        [ -z "$at_work" ] || ln -sfn "$at_work" "$OPT/previous"
        ln -sfn "releases/$1" "$OPT/current.new"
        mv -T "$OPT/current.new" "$OPT/current"
        changed=yes
    fi
    put "$share/drywind.service" "$UNIT" 644
    put "$share/drywind" /usr/local/bin/drywind 755
    put "$share/bash" /usr/local/share/bash-completion/completions/drywind 644
    put "$share/zsh" /usr/local/share/zsh/site-functions/_drywind 644
    put "$share/fish" /usr/local/share/fish/vendor_completions.d/drywind.fish 644
    if running_systemd; then systemctl daemon-reload; fi
}

# The version at work and the one before it stay; more would fill the card.
forget_old_releases() {
    for folder in "$OPT"/releases/*; do
        case releases/${folder##*/} in
        "$(readlink "$OPT/current")" | "$(readlink "$OPT/previous" || true)") ;;
        *) rm -rf "$folder" ;;
        esac
    done
    for folder in "$OPT"/libraries/*; do
        readlink "$OPT"/releases/*/libraries | grep -q "/${folder##*/}\$" || rm -rf "$folder"
    done
}

# --- user, configuration, data -----------------------------------------------------------------

# keep MODE OWNER PATH: puts owner and mode right, and says so if they were not.
keep() {
    if [ "$(stat -c '%a %U:%G' "$3")" != "$1 $2" ]; then
        say "$3: set to $2, mode $1"
        chown "$2" "$3"
        chmod "$1" "$3"
        changed=yes
    fi
}

make_user_and_folders() {
    if ! getent passwd drywind >/dev/null; then
        say "making the user drywind, who cannot log in"
        useradd --system --user-group --home-dir "$STATE" --no-create-home \
            --shell /usr/sbin/nologin drywind
        changed=yes
    fi
    mkdir -p "$ETC/secrets" "$STATE"
    if [ ! -e "$ETC/config.toml" ]; then
        say "writing $ETC/config.toml"
        # The example, told where a service keeps its data and its secrets.
        sed -e 's|^data_dir = "[^"]*"|data_dir = "/var/lib/drywind"|' \
            -e 's|^# secrets_dir = "secrets"|secrets_dir = "secrets"|' \
            -e 's|^url_env = "DRYWIND_URL_ADA"|url_file = "ada.url"|' \
            -e 's|^url_env = "DRYWIND_URL_OFFICE"|url_file = "office.url"|' \
            "$SOURCE/config.example.toml" >"$ETC/config.new"
        chown root:drywind "$ETC/config.new"
        chmod 640 "$ETC/config.new"
        mv "$ETC/config.new" "$ETC/config.toml"
        changed=yes
    fi
    keep 750 root:drywind "$ETC"
    keep 640 root:drywind "$ETC/config.toml"
    keep 750 root:drywind "$ETC/secrets"
    keep 700 drywind:drywind "$STATE"
    for file in "$ETC"/secrets/*; do
        [ ! -f "$file" ] || keep 600 drywind:drywind "$file"
    done
    find "$STATE" ! -user drywind -exec chown -h drywind:drywind {} +
    as_drywind chmod -R go= "$STATE"
}

# copy_store RELEASE FROM TO: a sound copy, whoever is writing.
copy_store() {
    # shellcheck disable=SC2016
    as_drywind "$OPT/releases/$1/bin/python" -c '
import sqlite3, sys
with sqlite3.connect(sys.argv[1], timeout=60) as old, sqlite3.connect(sys.argv[2]) as new:
    old.backup(new)
' "$2" "$3"
}

tables_of() {
    as_drywind "$OPT/releases/$1/bin/python" -c '
import sqlite3, sys
print(sqlite3.connect(sys.argv[1], timeout=60).execute("PRAGMA user_version").fetchone()[0])
' "$STATE/drywind.db"
}

# Whether a release accepts the configuration and a copy of the store; its words are in $said.
accepts() {
    trial=$(mktemp -d /var/tmp/drywind.XXXXXX)
    chown drywind: "$trial"
    if [ -e "$STATE/drywind.db" ] && ! copy_store "$1" "$STATE/drywind.db" "$trial/drywind.db"; then
        rm -rf "$trial"
        die "the store $STATE/drywind.db cannot be copied; nothing has been changed"
    fi
    accepted=yes
    said=$(as_drywind DRYWIND_CONFIG="$ETC/config.toml" DRYWIND_YARD__DATA_DIR="$trial" \
        "$OPT/releases/$1/bin/drywind" check 2>&1) || accepted=no
    rm -rf "$trial"
    [ $accepted = yes ]
}

# --- from one version to the next --------------------------------------------------------------

comes_up() {
    systemctl start drywind && sleep 3 && systemctl --quiet is-active drywind
}

# Ends the old version, keeps a copy of its store, and tries the new one; goes back if it fails.
change_over() {
    from=$1 to=$2
    was_up=no
    if is_up; then
        was_up=yes
        systemctl stop drywind
    fi
    backup=
    if [ -e "$STATE/drywind.db" ]; then
        as_drywind mkdir -p "$STATE/backups"
        backup=$STATE/backups/before-$to.db
        as_drywind rm -f "$backup"
        copy_store "$to" "$STATE/drywind.db" "$backup" || {
            [ $was_up = no ] || systemctl start drywind
            die "no backup of the store could be made; nothing has been changed"
        }
        tables=$(tables_of "$to")
        say "the store is backed up in $backup"
    fi
    activate "$to"
    if [ $was_up = no ] || comes_up; then
        return
    fi
    say "the new version does not come up; going back to ${from:-none}" >&2
    systemctl --no-pager --lines=20 status drywind >&2 || true
    systemctl stop drywind
    if [ -n "$backup" ] && [ "$(tables_of "$to")" != "$tables" ]; then
        rm -f "$STATE/drywind.db-wal" "$STATE/drywind.db-shm"
        as_drywind cp "$backup" "$STATE/drywind.db"
    fi
    [ -n "$from" ] || die "the service does not come up; see: sudo journalctl -u drywind"
    activate "$from"
    rm -rf "$OPT/previous" "${OPT:?}/releases/$to"
    comes_up || die "the version before does not come up either; see: journalctl -u drywind"
    die "$from is running again, with its data; $to was not installed"
}

start_for_good() {
    systemctl --quiet is-enabled drywind 2>/dev/null || {
        systemctl --quiet enable drywind
        changed=yes
    }
    if ! running_systemd; then
        say "systemd is not running here: the service starts at the next boot"
    elif ! is_up; then
        changed=yes
        comes_up || die "the service does not come up; see: sudo journalctl -u drywind"
    fi
}

tell_what_is_left() {
    cat <<END

drywind is installed, but not started: its configuration is not finished.

$said

  1. sudo nano $ETC/config.toml        change every line marked CHANGE
  2. for each url_file, put its address in, followed by Enter and Ctrl-D:
     sudo install -o drywind -g drywind -m 600 /dev/stdin $ETC/secrets/ada.url
  3. sudo drywind check                until it has nothing to say against it
  4. sudo drywind send-test            until it arrives
  5. sudo sh deploy/install.sh         again: starts the service, now and at each boot
END
}

main() {
    refuse_other_machines
    exec 9>/run/drywind-install.lock
    flock -n 9 || die "another installation is going on"
    need_packages
    changed=no
    name_release
    before=$(readlink "$OPT/current" 2>/dev/null || true)
    before=${before#releases/}
    [ "$before" = "$release" ] || changed=yes
    build libraries "$libraries" "a few minutes on a Raspberry Pi"
    build releases "$release"
    make_user_and_folders
    if accepts "$release"; then
        ready=yes
    else
        ready=no
        words=$said
        blame=
        if [ -n "$before" ] && [ "$before" != "$release" ] && accepts "$before"; then
            blame="the new version does not accept what $before does"
        elif is_up; then
            blame="the configuration has faults"
        fi
        if [ -n "$blame" ]; then
            [ "$before" = "$release" ] || rm -rf "${OPT:?}/releases/$release"
            forget_old_releases
            echo "$words" >&2
            die "$blame; nothing has been changed"
        fi
        said=$words
    fi
    if [ "$before" != "$release" ]; then
        change_over "$before" "$release"
    else
        activate "$release"
    fi
    forget_old_releases
    if [ $ready = no ]; then
        tell_what_is_left
        return
    fi
    start_for_good
    if [ $changed = no ]; then
        say "$release is installed and up to date; nothing was to be done"
        return
    fi
    drywind check
    say "$release is installed; follow it with: sudo journalctl -fu drywind"
}

main
