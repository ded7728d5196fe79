#!/usr/bin/env bash
# The two commands of the README on a bare Debian 12, in a fresh clone, as root and as an ordinary user, timed.
#
#   bash tests/bare_debian.sh [FOLDER]          FOLDER: where the bare system goes (a new folder under /tmp)
#   bash tests/bare_debian.sh FOLDER demo       the first command alone
#   bash tests/bare_debian.sh FOLDER all ...    the rest goes to tests/run
#
# Needs root, debootstrap and this machine's access to Debian and the Python package index: whatever settings this
# machine has for them are copied in when it runs. What is committed is what is tried.
set -eu
project=$(cd "$(dirname "$0")/.." && pwd)
root=${1:-$(mktemp -d /tmp/bare-debian.XXXXXX)}
what=${2:-all}
more=${*:3}

[ "$(id -u)" = 0 ] || { echo "run this as root: it builds a system of its own"; exit 2; }
command -v debootstrap > /dev/null || { echo "debootstrap is missing: apt-get install debootstrap"; exit 2; }

mounts=()
leave() {
    for place in "${mounts[@]}"; do umount "$root$place" 2> /dev/null || umount -l "$root$place" || true; done
}
trap leave EXIT
mount_in() { # a place of this machine at the same place inside
    mkdir -p "$root$1"
    mount --bind ${2:-} "$1" "$root$1"
    mounts=("$1" "${mounts[@]}")
}

# ---- the bare system ----
chmod 755 "$root" 2> /dev/null || true # mktemp made it for its owner alone, and it becomes the / of everybody in it
if [ ! -e "$root/etc/debian_version" ]; then
    mirror=$(awk '$1 == "URIs:" {print $2; exit} $1 == "deb" {for (i = 2; i <= NF; i++) if ($i ~ /^https?:/) {print $i; exit}}' \
        /etc/apt/sources.list /etc/apt/sources.list.d/*.sources /etc/apt/sources.list.d/*.list 2> /dev/null || true)
    echo "== making a bare Debian 12 in $root"
    debootstrap --variant=minbase --include=python3,python3-venv,ca-certificates bookworm "$root" $mirror > "$root.log" 2>&1 || {
        tail -5 "$root.log"
        exit 1
    }
fi

# ---- this machine's settings for packages ----
copy() {
    for place in "$@"; do
        [ -e "$place" ] || continue
        mkdir -p "$root$(dirname "$place")"
        cp -aL "$place" "$root$(dirname "$place")/"
    done
}
rm -f "$root/etc/apt/sources.list" # what debootstrap wrote; this machine's own follow
copy /etc/resolv.conf /etc/hosts /etc/apt/sources.list /etc/apt/sources.list.d /etc/apt/apt.conf.d /etc/apt/preferences.d \
    /etc/apt/trusted.gpg.d /etc/apt/keyrings /etc/ssl/certs/ca-certificates.crt /etc/pip.conf /etc/xdg/pip
mount_in /proc
mount_in /sys
mount_in /dev
mount_in /dev/pts  # terminals: some tests tick a list on one
mkdir -p "$root/dev/shm"
mount -t tmpfs -o mode=1777 tmpfs "$root/dev/shm" && mounts=(/dev/shm "${mounts[@]}")  # every user's processes share memory there
settings=()
while IFS= read -r line; do settings+=("$line"); done < <(env | grep -E '^(PIP_|SSL_CERT|REQUESTS_CA|https?_proxy=|HTTPS?_PROXY=|no_proxy=|NO_PROXY=)' || true)
# package folders of this machine that the settings name, with what lies beside an index
for place in $(pip3 config list 2> /dev/null | grep -oE "(file://)?/[^' ]+" | sed 's#^file://##' | sort -u); do
    place=${place%/simple}
    [ -d "$place" ] && mount_in "$place" "-o ro"
done

# ---- a fresh clone for each ----
inside() { # who, home, command
    chroot --userspec="$1" "$root" env -i PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin HOME="$2" LANG=C.UTF-8 \
        "${settings[@]}" bash -c "cd $2/coach && $3"
}
clone() { # home, owner
    rm -rf "${root:?}$1/coach"
    mkdir -p "$root$1/.config"
    [ -d ~/.config/pip ] && cp -rL ~/.config/pip "$root$1/.config/"
    git clone -q --no-hardlinks "$project" "$root$1/coach"
    chroot "$root" chown -R "$2" "$1"
}
timed() { # label, who, home, command
    echo "== $1: $4"
    local from=$SECONDS code=0
    inside "$2" "$3" "$4" || code=$?
    echo "== $1: exit $code after $((SECONDS - from)) s"
    [ $code = 0 ] || failed=1
}
failed=0
grep -q ^rider: "$root/etc/passwd" || chroot "$root" useradd -m rider
clone /home/rider rider:rider
clone /root root:root

first='python3 -m venv .venv && .venv/bin/pip install -q . && .venv/bin/cadence-coach demo'
timed "user, README 1" rider:rider /home/rider "$first"
timed "root, README 1" root:root /root "$first"
[ "$what" = demo ] && exit $failed

echo "== user, README 2 before the packages are there: it must print one line to type and stop"
if inside rider:rider /home/rider 'bash tests/run' > "$root/tmp/said"; then
    echo "but it went on"
    failed=1
fi
cat "$root/tmp/said"
[ "$(grep -c '^sudo apt-get' "$root/tmp/said")" = 1 ] || failed=1

timed "root, README 2" root:root /root "bash tests/run $more"
timed "user, README 2" rider:rider /home/rider "bash tests/run $more"
exit $failed
