# SPDX-License-Identifier: GPL-3.0-or-later
"""Sound helpers that go wrong, seen from the window: each is told in words, the window goes on answering, the file stays whole,
and the take that failed is recorded again with a helper that works."""
import json
import os
import signal
import sqlite3
import subprocess
import sys
import time

import window_bench

SHEETS, HELPER, MISBEHAVING = (os.path.abspath(path) for path in sys.argv[3:6])
WAYS = ("dies", "hangs", "floods", "rubbish", "stalls", "too-much")
MOST_SECONDS = 4  # promised: 1; a process has to start besides


def make_helpers(bench):
    """A helper that is what the file "how" says."""
    folder = os.path.join(bench.folder, "helpers")
    os.mkdir(folder)
    os.symlink(HELPER, os.path.join(folder, "works"))
    for way in WAYS:
        os.symlink(MISBEHAVING, os.path.join(folder, way))
    script = os.path.join(folder, "helper")
    with open(script, "w") as file:
        file.write(f"#!/bin/sh\nexec {folder}/$(cat {folder}/how)\n")
    os.chmod(script, 0o755)
    os.environ["CABINWRIGHT_SOUND_HELPER"] = script
    return os.path.join(folder, "how")


def end_helper(bench):
    """The helper that runs now, if there is one, goes, so that the next one is started. Returns whether there was one."""
    with open(f"/proc/{bench.program.pid}/task/{bench.program.pid}/children") as file:
        children = file.read().split()
    for child in children:
        with open(f"/proc/{child}/cmdline", "rb") as file:
            if b"/helpers/" in file.read():
                os.kill(int(child), signal.SIGKILL)
                return True
    return False


def choose(bench, how, way):
    with open(how, "w") as file:
        file.write(way)
    if end_helper(bench):  # told, though nothing played
        bench.wait(lambda: is_told(bench))
        close_notice(bench)


def count_takes(path):
    """How many takes are in the file, which must be whole."""
    with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as file:
        assert file.execute("pragma quick_check").fetchone() == ("ok",)
    said = subprocess.run([window_bench.CONSOLE, "show", path, "--json"], capture_output=True, text=True)
    assert said.returncode == 0, said.stderr
    return len(json.loads(said.stdout)["takes"])


def find_notice(bench):
    return next((node for node in bench.walk() if "he sound helper " in (node.get_name() or "")), None)


def is_told(bench):
    return find_notice(bench) is not None


def close_notice(bench):
    """What failed stays until it is closed, by the nearest button."""
    node, button = find_notice(bench), None
    while not button:
        node = node.get_parent()
        button = next((inside for inside in bench.walk(node) if inside.get_role_name() == "push button"), None)
    assert button.get_action_iface().do_action(0)
    bench.wait(lambda: not is_told(bench))


def journey(bench):
    how = make_helpers(bench)
    car = os.path.join(bench.folder, "tourer.cabin")
    bench.console("new", car, os.path.join(SHEETS, "alder-tourer.json"))
    with open(how, "w") as file:
        file.write("works")
    bench.start(car)
    bench.go_to_stage(6)
    for number, way in enumerate(WAYS):
        choose(bench, how, way)
        bench.press("Record the next take")
        watch, slowest = window_bench.Stopwatch(), 0.0
        while not is_told(bench):
            asked = time.monotonic()
            bench.frame().get_name()
            slowest = max(slowest, time.monotonic() - asked)
            assert time.monotonic() - watch.start < 60 * window_bench.PATIENCE, f"{way} is not told"
        told, slowness = watch.stop()
        print(f"{way}: told after {told:.2f} s, the window answered within {1000 * slowest:.0f} ms, on a machine {slowness:.1f} times as slow as an idle one")
        assert told < MOST_SECONDS * slowness, way
        assert slowest < slowness, way
        assert count_takes(car) == number, f"{way} left a take behind"
        close_notice(bench)
        with open(how, "w") as file:
            file.write("works")
        bench.press("Record the next take")
        bench.wait(lambda: count_takes(car) == number + 1, 60)
    bench.picture("helpers")
    bench.quit()
    assert count_takes(car) == len(WAYS)
    print("ok")


window_bench.main(journey)
