#!/usr/bin/env bash
# Builds every image, holds the Pico's to its size and to the same bytes from any folder, runs it in its emulator, and
# compares the emulated board with the controller on this machine: tests/firmware.sh rustup|debian
# Needs node, npm, the tools of binutils-arm-none-eabi and qemu-system-arm; tests/run.sh installs them.
set -euo pipefail
cd "$(dirname "$0")/.."
export TOOLCHAIN=$1
FIRMWARE_BUILD=$(git describe --always --dirty 2>/dev/null || echo unknown)
export FIRMWARE_BUILD

# Flash the Pico's image may take: 104 KiB.
PICO_MOST=106496

for directory in firmware/boards/*/ firmware/stepcount; do
  (cd "$directory" && cargo fmt --check)
done
# In the images' profile, so that macros and build scripts are built once for both.
for config in firmware/boards/*/.cargo/config.toml; do
  target=$(sed -n 's/^target = "\(.*\)"/\1/p' "$config")
  tests/bare.sh "$1" "${config%/.cargo/*}" "$target" clippy --release --quiet -- -D warnings
done
echo "boards: formatted, no lints"

tests/template.sh
firmware/build.sh pico --quiet --features rtt >/dev/null
echo "pico: builds with the debugger's log"
pico=$(firmware/build.sh pico --quiet)
used=$(arm-none-eabi-size "$pico" | awk 'NR == 2 { print $1 + $2 }')
echo "$pico: $used of $PICO_MOST bytes of flash"
if [ "$used" -gt "$PICO_MOST" ]; then
  echo "the Pico's image is too large" >&2
  exit 1
fi
# The same sources from another folder; crates from elsewhere are not built once more.
other=$PWD/target/other-folder
rm -rf "$other"
mkdir -p "$other"
tar c --exclude-vcs --exclude=target --exclude=node_modules . | tar x -C "$other"
cp "$pico" "$other/first"
CARGO_TARGET_DIR=$PWD/${pico%/thumb*} "$other/firmware/build.sh" pico --quiet >/dev/null
cmp "$pico" "$other/first"
echo "pico: the same bytes from two folders"
# One core for this, the other for the images that follow.
(cd firmware/emulator && npm ci --no-audit --no-fund --loglevel=error && npm test) &
emulator=$!
tests/no-link.sh firmware/build.sh emulated --quiet --features bug
emulated=$(firmware/build.sh emulated --quiet)
echo "$emulated: no panic path in the application"

# With the whole workspace's features, so that the tests find their dependencies built.
EMULATED_IMAGE=$PWD/$emulated cargo test --workspace --locked --test emulated -- --ignored
wait "$emulator"
