#!/usr/bin/env bash
# The programs for small field computers: built for arm64 by Debian's cross toolchain in a root of its own, and
# tried there as this machine can play them (qemu-user): a day is checked, a server answers. As root.
set -euo pipefail
cd "$(dirname "$0")/../.."
. tests/install/root.sh

make_root
inside dpkg --add-architecture arm64
inside apt-get update -qq
libraries=$(bash .ci/setup packages | grep -E '^lib.*-dev$')
inside apt-get install -y -qq --no-install-recommends crossbuild-essential-arm64 cmake ninja-build pkgconf protobuf-compiler esbuild \
    qemu-user-static dpkg-dev tzdata $(sed 's/$/:arm64/' <<< "$libraries") > /dev/null

git archive --prefix=fieldpeg/ HEAD | tar -x -C "$root/root"
begun=$SECONDS
inside sh -ec 'cd /root/fieldpeg
    export PKG_CONFIG_LIBDIR=/usr/lib/aarch64-linux-gnu/pkgconfig:/usr/share/pkgconfig
    cmake --preset release -DBUILD_TESTING=OFF -DCMAKE_EXE_LINKER_FLAGS_INIT= -DCMAKE_SYSTEM_NAME=Linux -DCMAKE_SYSTEM_PROCESSOR=aarch64 \
        -DCMAKE_CXX_COMPILER=aarch64-linux-gnu-g++ -DCMAKE_STRIP=/usr/bin/aarch64-linux-gnu-strip -DCMAKE_LIBRARY_ARCHITECTURE=aarch64-linux-gnu \
        -DCMAKE_CROSSCOMPILING_EMULATOR="/usr/bin/qemu-aarch64-static" > /dev/null
    cmake --build --preset release --target fieldpeg fieldpegd described > build/said
    cd build/release && DEB_HOST_ARCH=arm64 cpack -G DEB -D CPACK_DEBIAN_PACKAGE_ARCHITECTURE=arm64 > cpack.log' ||
    { tail -n 30 "$root/root/fieldpeg/build/said" "$root/root/fieldpeg/build/release/cpack.log"; fail "does not build for arm64"; }
echo "arm64: built in $((SECONDS - begun)) s"

inside sh -ec 'cd /root && apt-get install -y -qq --no-install-recommends adduser > /dev/null
    for package in /root/fieldpeg/build/release/*_arm64.deb; do dpkg -x "$package" /root/arm64; done
    dpkg -f /root/fieldpeg/build/release/fieldpegd_*_arm64.deb Architecture Depends
    play() { qemu-aarch64-static "/root/arm64/usr/bin/$@"; }
    play fieldpeg --version
    play fieldpeg check --day /root/arm64/usr/share/fieldpeg/demo_day.toml | tail -n 3
    mkdir day && cd day
    qemu-aarch64-static /root/arm64/usr/bin/fieldpegd --day day.toml --new --listen 127.0.0.1:7423 --no-discovery 2> said & server=$!
    for n in $(seq 200); do grep -qs "stop with Ctrl-C" said && break; sleep 0.1; done
    play fieldpeg join Edda --ticket day.tickets
    play fieldpeg pilot add Ann --kit usual-quad --place line-1
    play fieldpeg claim best --for Ann --yes | head -n 2
    kill "$server"; wait "$server" || true
    play fieldpeg log verify day.daylog' || fail "does not run as arm64"
echo "arm64: built, packed, and a day begun"
