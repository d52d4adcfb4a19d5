#!/usr/bin/env bash
# Runs a build with a planted panic: it has to fail, and because the panic's symbol is missing. Any other
# failure shows nothing.
#
#   tests/no-link.sh COMMAND [ARGUMENT …]
set -euo pipefail
if said=$("$@" 2>&1); then
  echo "the panic check cannot fail: a planted panic linked" >&2
  exit 1
fi
if ! grep -q 'undefined symbol: panic_path_remains' <<<"$said"; then
  printf '%s\n' "$said" >&2
  echo "found: the build with a planted panic failed for another reason (above); expected: the linker misses panic_path_remains; mend the build" >&2
  exit 1
fi
echo "a planted panic does not link, as it must"
