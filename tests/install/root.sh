# A bare Debian 12 of its own, for what is tried there: . root.sh; make_root; inside COMMAND ... As root.

[ "$(id -u)" -eq 0 ] || { echo "only root can make a root of its own" >&2; exit 1; }
fail() { echo "$(basename "$0"): $1" >&2; exit 1; }

install_missing() {
    local missing=() package
    for package in "$@"; do
        dpkg-query -W -f '${Status}' "$package" 2> /dev/null | grep -q 'install ok installed' || missing+=("$package")
    done
    [ ${#missing[@]} -eq 0 ] || DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${missing[@]}" > /dev/null
}

# $root; gone with whoever made it. Packages come from wherever this machine has its own.
make_root() {
    install_missing debootstrap
    root=$(mktemp -d)
    chmod 755 "$root"   # it is the root of others too
    trap 'umount -l "$root/proc" 2> /dev/null || true; rm -rf "$root" "$root.log"' EXIT
    local mirror
    mirror=$(apt-get indextargets --format '$(REPO_URI) $(RELEASE)' | awk '$2 == "bookworm" { print $1; exit }')
    debootstrap --variant=minbase bookworm "$root" "$mirror" > "$root.log" 2>&1 || { tail -5 "$root.log"; exit 1; }
    rm -f "$root/etc/apt/sources.list"
    cp -a /etc/apt/. "$root/etc/apt/"
    cp /etc/resolv.conf "$root/etc/" 2> /dev/null || true
    mount -t proc proc "$root/proc"
}
inside() { chroot "$root" env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root LANG=C.UTF-8 DEBIAN_FRONTEND=noninteractive \
    http_proxy="${http_proxy:-}" https_proxy="${https_proxy:-}" "$@"; }
