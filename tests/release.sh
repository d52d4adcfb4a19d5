#!/usr/bin/env bash
# Builds what a release offers, twice, in two folders; compares byte for byte; leaves files and checksums:
# tests/release.sh [FOLDER]
#
# The Pico's image as UF2 and ELF, and the program for a PC of this machine's kind. Of the commit that is checked out;
# if that has a tag, it must be the version's. Bytes follow from the commit, the compiler and the linker.
set -euo pipefail
cd "$(dirname "$0")/.."
out=$(realpath -m "${1:-out/release}")
version=$(sed -n 's/^version = "\(.*\)"/\1/p' Cargo.toml | head -1)
pc=host-sim-$(rustc -vV | sed -n 's/^host: //p')

if [ -n "$(git status --porcelain)" ]; then
  echo "release: found files that are not committed (git status); a release is built from a commit" >&2
  exit 1
fi
tag=$(git tag --points-at HEAD | head -1)
if [ -n "$tag" ] && [ "$tag" != "v$version" ]; then
  echo "release: found tag $tag; expected v$version, the version in Cargo.toml; set one or the other" >&2
  exit 1
fi
FIRMWARE_BUILD=$(git rev-parse --short=12 HEAD)
export FIRMWARE_BUILD
unset CARGO_TARGET_DIR

build() { # FOLDER FILES
  mkdir -p "$2"
  (
    cd "$1"
    image=$(firmware/build.sh pico --quiet)
    node firmware/emulator/uf2.mjs "$image" "$2/firmware-pico.uf2"
    cp "$image" "$2/firmware-pico.elf"
    RUSTC_WRAPPER=$PWD/firmware/rustc.sh RUSTFLAGS=--remap-path-prefix=${CARGO_HOME:-$HOME/.cargo}=/cargo \
      cargo build --release --locked --quiet -p host-sim
    cp target/release/host-sim "$2/$pc"
  )
}

other=$(mktemp -d)
trap 'rm -rf "$other"' EXIT
git archive HEAD | tar x -C "$other"
rm -rf "$out"
build "$PWD" "$out"
build "$other" "$other/files"
for file in firmware-pico.uf2 firmware-pico.elf "$pc"; do
  cmp "$out/$file" "$other/files/$file"
done
(cd "$out" && sha256sum firmware-pico.uf2 firmware-pico.elf "$pc" | tee SHA256SUMS)
echo "release $version of $FIRMWARE_BUILD with $(rustc --version): the same bytes from two folders; in $out"
