#!/usr/bin/env bash
# Builds what a release offers, from a commit and nothing else, with checksums:
#
#   firmware/release.sh FOLDER [COMMIT]     the Pico's image (UF2 and ELF), the PC's program, SHA256SUMS
#   firmware/release.sh --check [COMMIT]    builds the image twice from nothing and compares the bytes
#
# The compiler's names for things depend on where the sources lie, so they always lie in one place. Whoever has the same
# commit and the compiler that BUILT_WITH names gets the same bytes.
set -euo pipefail
what=${1:-} commit=${2:-HEAD}
if [ -z "$what" ]; then
  sed -n '2,5s/^# \{0,1\}//p' "$0" >&2
  exit 2
fi
if [ "$what" != --check ]; then
  mkdir -p "$what"
  what=$(cd "$what" && pwd)
fi
cd "$(dirname "$0")/.."
place=/var/tmp/slab-release
target=thumbv6m-none-eabi
if ! mkdir "$place" 2>/dev/null; then
  echo "$place: found a folder; expected none, as a build makes and removes it; is another one running?" >&2
  exit 2
fi
trap 'rm -rf "$place"' EXIT
mkdir "$place/source"
git archive "$commit" | tar -x -C "$place/source"
FIRMWARE_BUILD=$(git describe --always --tags "$commit")
export FIRMWARE_BUILD CARGO_INCREMENTAL=0
cd "$place/source"
version=$(sed -n 's/^version = "\(.*\)"/\1/p' firmware/app/Cargo.toml Cargo.toml | head -1)
remap="--remap-path-prefix=${CARGO_HOME:-$HOME/.cargo}=cargo"
image=firmware/boards/pico/target/$target/release/firmware-pico

pico() {
  rm -rf firmware/boards/pico/target
  firmware/build.sh pico --quiet --config "target.$target.rustflags=[\"$remap\"]" >/dev/null
}

pico
if [ "$what" = --check ]; then
  first=$(sha256sum <"$image")
  pico
  if [ "$first" != "$(sha256sum <"$image")" ]; then
    echo "$image: two builds of one commit differ" >&2
    exit 1
  fi
  echo "pico: two builds, the same bytes: ${first%% *}"
  exit 0
fi
cp "$image" "$what/slab-pico-$version.elf"
node firmware/emulator/uf2.mjs "$image" "$what/slab-pico-$version.uf2"
host=$(rustc -vV | sed -n 's/^host: //p')
cargo build --quiet --release --locked -p host-sim --config "build.rustflags=[\"$remap\"]"
cp target/release/host-sim "$what/host-sim-$version-$host"
cd "$what"
{ echo "commit $FIRMWARE_BUILD"; rustc -V; } >BUILT_WITH
sha256sum BUILT_WITH ./*"-$version"* | sed 's|\./||' >SHA256SUMS
cat SHA256SUMS
