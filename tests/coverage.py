#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Lines of src/ that tests have run, room by room.

    meson setup build-coverage -Db_coverage=true
    tests/coverage.py build-coverage [--suite quick] [--files] [--least PERCENT ROOM...]

Builds and runs the suite (quick unless another is named) from a clean count and reads what gcov has counted. A line counts
once however many programs hold it, and as run when any of them ran it. --files tells every file besides; with --least the
status is 1 where a room named has fewer lines run than that.
"""
import argparse
import collections
import json
import pathlib
import subprocess
import sys


def read_counts(build):
    """Source file -> line -> how often it was run, over all objects of the build."""
    counts = collections.defaultdict(lambda: collections.defaultdict(int))
    objects = sorted(str(path.relative_to(build)) for path in (build / "src").rglob("*.gcno"))
    for first in range(0, len(objects), 50):
        output = subprocess.run(["gcov", "--json-format", "--stdout", *objects[first:first + 50]], cwd=build, check=True,
                                capture_output=True, text=True).stdout
        for document in output.splitlines():
            if not document.strip():
                continue
            for source in json.loads(document)["files"]:
                lines = counts[(build / source["file"]).resolve()]
                for line in source["lines"]:
                    lines[line["line_number"]] += line["count"]
    return counts


def run_suite(build, suite):
    for old in build.rglob("*.gcda"):
        old.unlink()
    # Counting slows the programs down; how long they take is judged elsewhere.
    return subprocess.run(["meson", "test", "-C", str(build), "--suite", suite, "--timeout-multiplier", "10"]).returncode


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("build", type=pathlib.Path)
    parser.add_argument("--suite", default="quick")
    parser.add_argument("--files", action="store_true")
    parser.add_argument("--least", nargs="+", metavar="PERCENT ROOM", default=[])
    options = parser.parse_args()
    build = options.build.resolve()
    source = pathlib.Path(__file__).resolve().parent.parent / "src"

    status = run_suite(build, options.suite)
    rooms = collections.defaultdict(lambda: [0, 0])
    files = {}
    for path, lines in read_counts(build).items():
        if source not in path.parents:
            continue
        place = path.relative_to(source)
        run = sum(count > 0 for count in lines.values())
        rooms[place.parts[0]][0] += run
        rooms[place.parts[0]][1] += len(lines)
        files[str(place)] = (run, len(lines))
    for room, (run, lines) in sorted(rooms.items()):
        print(f"{100 * run / lines:6.1f} %  {run:6d} of {lines:6d}  {room}")
        for name in sorted(files) if options.files else []:
            if name.startswith(room + "/"):
                print(f"         {100 * files[name][0] / max(files[name][1], 1):6.1f} %  {name}")
    for room in options.least[1:]:
        run, lines = rooms.get(room, (0, 0))
        if lines == 0 or 100 * run < float(options.least[0]) * lines:
            print(f"{room}: below {options.least[0]} %", file=sys.stderr)
            status = 1
    return status


if __name__ == "__main__":
    sys.exit(main())
