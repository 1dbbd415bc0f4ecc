#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Installs what is missing, builds, and runs every test: all of them in build/, then all but the suite "plain-only" with the
# address and undefined-behaviour checkers in build-asan/, then the suite "threads" with the thread checker in build-tsan/. Of the
# last only what its tests need is built. The last line is "N passed, N failed"; the status is 1 when one failed or none ran.
set -eu

house=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
. "$house/src/dependencies.sh"

passed=0
failed=0
skipped=0

# quietly COMMAND...: shows what the command says only when it fails.
quietly()
{
  log=$(mktemp)
  status=0
  "$@" >"$log" 2>&1 || status=$?
  [ "$status" -eq 0 ] || cat "$log"
  rm -f "$log"
  return "$status"
}

# configure FOLDER [MESON OPTION...]
configure()
{
  folder=$house/$1
  shift
  if [ ! -f "$folder/build.ninja" ]; then
    rm -rf "$folder"
    quietly meson setup "$folder" "$house" "$@" || return 1
  fi
}

# count_results FOLDER: adds what meson wrote, one JSON object a line, to the sums.
count_results()
{
  log=$house/$1/meson-logs/testlog.json
  [ -f "$log" ] || return 0
  set -- $(python3 - "$log" <<'PYTHON'
import json
import sys

with open(sys.argv[1], encoding="utf-8") as log:
    results = [json.loads(line)["result"] for line in log if line.strip()]
passed = sum(result in ("OK", "EXPECTEDFAIL") for result in results)
skipped = sum(result == "SKIP" for result in results)
print(passed, len(results) - passed - skipped, skipped)
PYTHON
  )
  passed=$((passed + $1))
  failed=$((failed + $2))
  skipped=$((skipped + $3))
}

# run_tests FOLDER [MESON TEST OPTION...]: builds what the tests need, runs and counts; a build that fails is one failure.
run_tests()
{
  folder=$1
  shift
  before=$failed
  rm -f "$house/$folder/meson-logs/testlog.json"
  status=0
  meson test -C "$house/$folder" --print-errorlogs "$@" || status=$?
  count_results "$folder"
  # Meson itself may fail without a test having failed: that must not pass unseen.
  if [ "$status" -ne 0 ] && [ "$failed" -eq "$before" ]; then
    failed=$((failed + 1))
  fi
}

# shellcheck disable=SC2086  # the lists are words
install_missing $packages_to_build $packages_to_test

# A limit is ten times what a test takes alone on an idle machine; on a busy one nothing may fail for that, and a checked program
# is slower besides.
if configure build && quietly ninja -C "$house/build"; then
  run_tests build --timeout-multiplier 4
else
  failed=$((failed + 1))
fi

export ASAN_OPTIONS="${ASAN_OPTIONS:-detect_stack_use_after_return=1:strict_string_checks=1}"
export UBSAN_OPTIONS="${UBSAN_OPTIONS:-halt_on_error=1:print_stacktrace=1}"
export TSAN_OPTIONS="${TSAN_OPTIONS:-halt_on_error=1}"
if configure build-asan -Db_sanitize=address,undefined -Db_lundef=false && quietly ninja -C "$house/build-asan"; then
  run_tests build-asan --no-suite plain-only --timeout-multiplier 15
else
  failed=$((failed + 1))
fi
if configure build-tsan -Db_sanitize=thread -Db_lundef=false; then
  run_tests build-tsan --suite threads --timeout-multiplier 15
else
  failed=$((failed + 1))
fi

[ "$skipped" -eq 0 ] || echo "$skipped skipped"
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
