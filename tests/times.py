#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""What each test takes alone, and whether its limit leaves room.

    tests/times.py build [--record] [WORD...]

Runs the tests of a build (those whose name holds a word, or all) one after the other and prints wall and processor seconds beside
the limit. --record writes the wall seconds, rounded up, into tests/seconds-alone.txt, from which meson makes the limits: ten
times as much and two minutes at least. Record on a machine that does nothing else. The status is 1 where a test fails or a limit
is less than ten times what the test took of the processor.
"""
import json
import math
import os
import pathlib
import subprocess
import sys
import time

RECORD = pathlib.Path(__file__).resolve().parent / "seconds-alone.txt"


def read_record():
    lines = [line.split(" | ", 1) for line in RECORD.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return {name: int(seconds) for seconds, name in lines}


def write_record(record):
    head = [line for line in RECORD.read_text(encoding="utf-8").splitlines() if line.startswith("#")]
    lines = [f"{seconds:4d} | {name}" for name, seconds in sorted(record.items(), key=lambda entry: (-entry[1], entry[0]))]
    RECORD.write_text("\n".join(head + lines) + "\n", encoding="utf-8")


def run_alone(test, build):
    start = time.monotonic()
    program = subprocess.Popen(test["cmd"], env={**os.environ, **test["env"]}, cwd=test["workdir"] or build,
                               stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, used = os.wait4(program.pid, 0)
    return time.monotonic() - start, used.ru_utime + used.ru_stime, os.waitstatus_to_exitcode(status)


def main():
    words = [word for word in sys.argv[2:] if word != "--record"]
    build = sys.argv[1]
    subprocess.run(["ninja", "-C", build], check=True, stdout=subprocess.DEVNULL)
    tests = json.loads(subprocess.run(["meson", "introspect", "--tests", build], check=True, capture_output=True, text=True).stdout)
    record, bad = read_record(), 0
    for test in tests:
        if words and not any(word in test["name"] for word in words):
            continue
        wall, processor, status = run_alone(test, build)
        fault = f"ended with {status}" if status not in (0, 77) else "limit too short" if test["timeout"] < 10 * processor else ""
        bad += bool(fault)
        print(f"{wall:8.2f} s  {processor:8.2f} s  limit {test['timeout']:5d} s  {test['name']}  {fault}", flush=True)
        record[test["name"]] = max(math.ceil(wall), 1)
    if "--record" in sys.argv:
        known = {test["name"] for test in tests}
        write_record({name: seconds for name, seconds in record.items() if name in known})
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
