#!/usr/bin/env bash
# Builds the page and tries it in node and in a browser: tests/page.sh rustup|debian
# Needs node, npm, chromium and firefox-esr; tests/run.sh installs them. `tests/page.sh HOW release` builds as a release does and holds the
# sizes as well; without it the simulator is built sooner, for the same answers.
set -euo pipefail
cd "$(dirname "$0")/.."
export TOOLCHAIN=$1
profile=${2:-quick}

# Bytes of a release's WebAssembly and of the page with its built-in weather.
MODULE_MOST=3400000
PAGE_MOST=1900000

(cd page && cargo fmt --check)
export SIMULATOR=$PWD/$(page/build.sh "$profile")
# As the tests that follow build it, so that it is built once.
cargo test --workspace --locked --quiet --no-run --test cli
export HOST_SIM=$PWD/target/debug/host-sim DATA=$PWD/host-sim/data
export PAGE=$PWD/page/dist/try.html CHROMIUM=${CHROMIUM:-$(command -v chromium || command -v chromium-browser || command -v google-chrome)}
export FIREFOX=${FIREFOX:-$(command -v firefox-esr || command -v firefox)}
"$HOST_SIM" page --simulator "$SIMULATOR" --write "$PAGE"
"$HOST_SIM" page --simulator "$SIMULATOR" --write "$PAGE.again"
cmp "$PAGE" "$PAGE.again"
rm "$PAGE.again"
size() { wc -c <"$1"; }
echo "$PAGE: $(size "$PAGE") bytes; simulator $(size "$SIMULATOR") ($profile)"
if [ "$profile" = release ] && { [ "$(size "$SIMULATOR")" -gt "$MODULE_MOST" ] || [ "$(size "$PAGE")" -gt "$PAGE_MOST" ]; }; then
  echo "the page is too large: $MODULE_MOST and $PAGE_MOST bytes at most" >&2
  exit 1
fi
cd page/tests
npm ci --no-audit --no-fund --loglevel=error
node --test wasm.test.mjs page.test.mjs watch.test.mjs firefox.test.mjs
