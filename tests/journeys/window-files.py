# SPDX-License-Identifier: GPL-3.0-or-later
"""Files and the window: opened from the command line, a second start of the program, the same file twice, a broken one and one that
is not there, the list of recent vehicles, and a vehicle that begins from nothing."""
import json
import os
import subprocess
import sys

import window_bench

SHEETS = os.path.abspath(sys.argv[3])


def make(bench, name, sheet):
    path = os.path.join(bench.folder, name)
    bench.console("new", path, os.path.join(SHEETS, sheet))
    return path


def start_again(bench, path):
    """The second start hands its file to the first program, and ends."""
    done = subprocess.run([window_bench.PROGRAM, path], capture_output=True, text=True, timeout=20 * window_bench.PATIENCE)
    assert done.returncode == 0, done.stderr


def count_windows(bench, count):
    bench.wait(lambda: bench.application().get_child_count() == count)


def begin_from_nothing(bench):
    """A car is taken in: the page says what comes first, speakers and amplifiers are added with names of their own."""
    path = os.path.join(bench.folder, "taken in.cabin")
    bench.start()
    bench.press("New vehicle")
    bench.find("Name:", "text")
    bench.wait(lambda: bench.focused_role() == "text")
    bench.keys("ctrl+a")
    bench.type(path)
    bench.keys("Return")
    bench.find("Begin with the speakers")
    bench.press("Add a speaker")
    bench.find("Speakers (1)")
    bench.press("Add a speaker")
    bench.find("Speakers (2)")
    bench.wait(lambda: not bench.look("Begin with the speakers"))
    bench.go_to_stage(2)
    bench.press("Add an amplifier")
    bench.find("Amplifiers (1)")
    sheet = json.loads(bench.console("show", path, "--json"))
    assert [speaker["output"] for speaker in sheet["speakers"]] == [1, 2], sheet["speakers"]
    assert [amplifier["name"] for amplifier in sheet["amplifiers"]] == ["Amplifier"], sheet["amplifiers"]
    bench.go_to_stage(6)
    bench.find("Output 1, driver/1: no take yet.")
    bench.quit()


def journey(bench):
    tourer, van = make(bench, "tourer.cabin", "alder-tourer.json"), make(bench, "van.cabin", "rowan-van.json")
    broken = os.path.join(bench.folder, "broken.cabin")
    with open(tourer, "rb") as whole, open(broken, "wb") as part:
        part.write(whole.read()[:5000])
    bench.start(tourer)
    bench.find("J-0147")
    start_again(bench, van)
    count_windows(bench, 2)
    bench.find("Rowan Van")
    start_again(bench, tourer)
    start_again(bench, broken)
    bench.find(f"Not opened: {broken}: the file is damaged. The file is as it was.")
    start_again(bench, os.path.join(bench.folder, "nothing.cabin"))
    bench.wait(lambda: bench.look("there is no such file") or any("there is no such file" in (node.get_name() or "") for node in bench.walk()))
    assert bench.application().get_child_count() == 2, "a file that is open already, or that cannot be, needs no other window"
    bench.quit()
    bench.start()
    bench.find("Recent vehicles")
    bench.find("van.cabin")
    bench.press("tourer.cabin")
    bench.find("J-0147")
    bench.quit()
    begin_from_nothing(bench)
    print("ok")


window_bench.main(journey)
