# SPDX-License-Identifier: GPL-3.0-or-later
"""The whole job through the window, in the practice bay: every stage opened, a value edited and undone, a wrong one refused,
takes recorded and one stopped, a tune proposed and one cancelled, a table exported."""
import json
import os
import time

import window_bench

def edit_and_undo(bench):
    bench.go_to_stage(1)
    before = bench.text(bench.find("Description", "text"))
    bench.enter("Description", "Estate with tinted windows")
    bench.wait(lambda: bench.document()["description"] == "Estate with tinted windows")
    bench.keys("ctrl+z")
    bench.wait(lambda: bench.document()["description"] == before)
    assert bench.text(bench.find("Description", "text")) == before
    bench.keys("ctrl+shift+z")
    bench.wait(lambda: bench.document()["description"] == "Estate with tinted windows")
    bench.enter("Positions per seat", "many")
    bench.find("“many” is not a number")
    bench.enter("Positions per seat", "400")
    bench.find("400 is above 64")
    assert bench.document()["positions_per_seat"] == 6
    bench.enter("Positions per seat", "2")
    bench.wait(lambda: bench.document()["positions_per_seat"] == 2)


def load_a_calibration(bench):
    """A file with a fault is refused with its line; mended, it is in the sheet, and can be undone."""
    path = os.path.join(bench.folder, "microphone.txt")
    for text, said, line in (("Sens 12\n20 -1.5\n1000 zero\n", "The calibration was not read", "3"),
                             ("20 -1.5\n1000 0\n20000 2.25\n", "Calibration of 3 points from 20 to 20000 Hz", "")):
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        before = bench.document()["microphone"]
        bench.press("Load the microphone's calibration")
        bench.open_file(path)
        assert line in bench.find(said).get_name().split(path)[-1], bench.find(said).get_name()
        after = bench.document()["microphone"]
        assert (after == before) == bool(line), after
    curve = after["calibration"] if after["incidence"] == "0" else after["calibration_90"]
    assert curve == [[20, -1.5], [1000, 0], [20000, 2.25]], curve
    bench.keys("ctrl+z")
    bench.wait(lambda: bench.document()["microphone"] == before)


def takes(bench):
    return bench.document().get("takes", [])


def survey_the_radio(bench):
    bench.go_to_stage(3)
    bench.press("Survey quickly")
    bench.find("The survey is there.", seconds=60)


def record_and_stop(bench):
    bench.go_to_stage(6)
    bench.press("Record the next take")
    bench.wait(lambda: len(takes(bench)) == 1, 40)
    assert takes(bench)[0]["accepted"] and takes(bench)[0]["position"] == "driver/1", takes(bench)[0]
    bench.find("front left high, driver/1: accepted")
    bench.press("Record the next take")
    bench.find("front right high at driver/1")
    time.sleep(1.5)
    watch = window_bench.Stopwatch()
    bench.keys("Escape")
    bench.find("Silent", seconds=2)
    seconds, slowness = watch.stop()
    assert seconds < 2 * slowness, (seconds, slowness)
    bench.find("Stopped. The takes before this one are kept.")
    assert len(takes(bench)) == 1
    bench.press("Fill the board quickly")
    bench.wait(lambda: len(takes(bench)) == 18, 120)
    bench.find("6 Measuring: ")
    assert all(take["accepted"] for take in takes(bench))


def look_for_the_rattle(bench):
    """A hand on the level goes before what the last take says. Output 6 rattles in the practice car: the tone round it plays until
    Escape."""
    bench.press("front right low, driver/2: accepted")
    bench.find("Again: front right low at driver/2, -12 dBFS, as before.")
    bench.focus("Level", "spin button")
    bench.keys("Down")
    bench.find("Again: front right low at driver/2, -13 dBFS, as set below.")
    bench.keys("Up")
    bench.press("Play around the rattle")
    bench.find("front right low around 9")
    time.sleep(1.0)
    bench.keys("Escape")
    bench.find("Silent", seconds=2)
    assert len(takes(bench)) == 18
    bench.press("front left low, driver/2: accepted")
    bench.wait(lambda: not bench.look("Play around the rattle", "push button"))


def set_an_arrival(bench):
    """The arrival of a take typed, then moved by keys on its line, undone, and left to the takes again; beside it the table of what
    the sheet lets expect."""
    def take():
        return next(take for take in takes(bench) if (take["output"], take["position"]) == (5, "driver/2"))
    heard = take()
    bench.focus("Response of the take", "image")
    bench.keys("shift+Tab", "Right", "Right")
    bench.find("By: Sound and distance; 95 % sure within")
    bench.focus("Arrival in milliseconds", "spin button")
    bench.keys("ctrl+a")
    bench.type("5.25")
    bench.keys("Return")
    bench.wait(lambda: (take()["arrival_ms"], take()["arrival_by"]) == (5.25, "hand"))
    bench.find("Set by hand.")
    bench.focus("Arrival of the take", "image")
    bench.keys("Right", "shift+Right")
    bench.wait(lambda: take()["arrival_set_ms"] == 5.36)
    bench.picture("arrival-by-hand")
    # What is moved without a rest is one step; on a slow machine it is more than one.
    for steps in range(3):
        before = take()["arrival_set_ms"]
        bench.keys("ctrl+z")
        bench.wait(lambda: take()["arrival_set_ms"] != before)
        if take()["arrival_set_ms"] is None:
            break
    assert take()["arrival_set_ms"] is None, take()
    assert take()["arrival_ms"] == heard["arrival_ms"] and take()["arrival_by"] == "both", take()
    bench.keys("Page_Down")
    bench.wait(lambda: take()["arrival_by"] == "hand")
    assert take()["arrival_ms"] in [round(edge[0], 2) for edge in heard["edges"]], take()
    bench.press("Leave it to the takes")
    bench.wait(lambda: take()["arrival_by"] == "both")
    bench.focus("First sound of the take", "image")
    bench.keys("shift+Tab", "Right")
    bench.find("Arrivals at driver/2, in ms.")
    bench.picture("arrivals")


def has_tune(bench):
    return bool(bench.document().get("tune", {}).get("outputs"))


def propose_and_cancel(bench):
    bench.go_to_stage(7)
    bench.wait(lambda: bench.is_sensitive(bench.find("Propose a tune", "push button")), 30)
    bench.keys_at_once("ctrl+Return", "Escape")
    bench.find("Cancelled. The vehicle is as it was.", seconds=30)
    assert not has_tune(bench)
    bench.press("Propose a tune", seconds=30)
    bench.find("Tune ready.", seconds=240)
    outputs = bench.document()["tune"]["outputs"]
    assert len(outputs) == 9 and all(output["sections"] for output in outputs)
    bench.picture("tuned")


def steer_the_tune(bench):
    """A lock set, at most four filters, another of the three proposals taken and taken back, all by the Proposals tab."""
    tune = lambda: bench.document()["tune"]
    output = lambda: next(o for o in tune()["outputs"] if o["output"] == 5)
    bench.focus("Output 5 Gain")
    bench.keys("shift+Tab", "Right", "Right", "Right")
    bench.find("Locked in front left low", seconds=10)
    bench.picture("proposals")
    bench.focus("Crossover", "check box")
    bench.keys("space")
    bench.wait(lambda: set(output().get("held", [])) == {"high-pass", "low-pass"})
    crossover = [s for s in output()["sections"] if s["use"] == "crossover"]
    bench.focus("EQ filters per output at most", "spin button")
    bench.keys("Up", "Up", "Up", "Up")
    bench.press("Propose a tune", seconds=30)
    bench.wait(lambda: len(tune()["alternatives"]) == 4, 240)
    assert [s for s in output()["sections"] if s["use"] == "crossover"] == crossover
    assert all(sum(s["use"] == "correction" for s in o["sections"]) <= 4 for o in tune()["outputs"])
    closest = tune()["outputs"]
    bench.press("Use: Simplest")
    bench.wait(lambda: tune()["chosen"] == "simplest")
    assert tune()["outputs"] != closest
    bench.keys("ctrl+z")
    bench.wait(lambda: tune()["outputs"] == closest)
    bench.press("Use: The tune before")
    bench.wait(lambda: not tune().get("chosen") and tune()["outputs"] != closest)
    bench.picture("proposals-chosen")
    bench.focus("Crossover", "check box")
    bench.keys("shift+Tab", "Right")
    bench.find("All bands together:", seconds=20)
    bench.picture("headroom")
    bench.keys("Left", "Left", "Left", "Left")


def voice_the_tune(bench):
    """Two decibels of warmth: no new finding, and nothing that protects a speaker is undone by weight as far as it goes."""
    codes = lambda: sorted((f["code"], f["about"].get("output", 0)) for f in bench.document()["findings"])
    voicing = lambda: {round(s["frequency_hz"]): s["gain_db"] for s in bench.document()["tune"]["voicing"]}
    before, gains = codes(), [o["gain_db"] for o in bench.document()["tune"]["outputs"]]
    bench.focus("Output 5 Gain")
    bench.keys("shift+Tab", "Right")
    bench.focus("Warmth", "spin button")
    bench.keys("Up", "Up", "Up", "Up")
    bench.wait(lambda: voicing().get(200) == 2)
    bench.focus("Weight", "spin button")
    bench.keys(*["Up"] * 12)
    bench.wait(lambda: voicing().get(70, 0) > 0)
    time.sleep(1)
    assert codes() == before, (codes(), before)
    steps = {round(a - o["gain_db"], 3) for a, o in zip(gains, bench.document()["tune"]["outputs"])}
    assert len(steps) == 1 and steps.pop() >= 0, steps
    bench.picture("voiced")
    bench.focus("Weight", "spin button")
    bench.keys("shift+Tab", "Left")


def listen_while_tuning(bench):
    """What the microphone hears is drawn over the prediction until Escape."""
    bench.press("Listen")
    bench.find("Stop listening", "push button")
    time.sleep(2.5)
    bench.picture("listening")
    bench.keys("Escape")
    bench.find("Listen", "push button", prefix=False)


def shape_the_target(bench):
    """A point of the target added, moved by its number, and both undone; a file with a fault is refused with its line, a right one taken."""
    before = bench.document()["target"]
    bench.focus("Output 5 Gain")
    bench.keys("shift+Tab", "Right", "Right")
    bench.press("Add a point")
    bench.wait(lambda: len(bench.document()["target"]) == len(before) + 1)
    bench.keys("ctrl+z")
    bench.wait(lambda: bench.document()["target"] == before)
    for text, said in (("Hz,dB\n20,4\n20,3\n", "line 3"), ("Hz,dB\n20,4\n500,0\n16000,-4\n", "Target of 3 points.")):
        path = os.path.join(bench.folder, "target.csv")
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        bench.press("Load from a file")
        bench.open_file(path)
        bench.wait(lambda: any(said in (node.get_name() or "") for node in bench.walk()), 10)
    assert bench.document()["target"] == [[20, 4], [500, 0], [16000, -4]]
    bench.picture("target")
    bench.keys("ctrl+z")
    bench.wait(lambda: bench.document()["target"] == before)


def prove(bench):
    bench.go_to_stage(8)
    bench.find("left input")
    bench.press("Measure all quickly", seconds=30)
    rows = bench.wait(lambda: bench.document().get("proof"), 60)
    assert [row["subject"] for row in rows] == ["driver, left alone", "driver, right alone", "driver, both sides"], rows
    for row in rows:
        assert row["agrees"] and row["rms_db"] < 0.5, f"{row['subject']} differs by {row['rms_db']} dB from its prediction"
    bench.find("8 Proof: Done")
    bench.picture("proof")


def export(bench):
    bench.go_to_stage(9)
    bench.find("Checksum of the tune: ")
    preview = bench.find("The table as it will be written", "text")
    assert "Output 1  front left high" in bench.text(preview) and "dB per octave" in bench.text(preview)
    bench.open_list("Format")
    bench.keys("Down", "Return")
    bench.wait(lambda: bench.text(preview).startswith('{"format":"cabinwright-table"'))
    path = os.path.join(bench.folder, "table.json")
    bench.press("Export the table")
    bench.find("Name:", "text")
    time.sleep(0.7)
    bench.keys("ctrl+a")
    bench.type(path)
    bench.keys("Return")
    bench.find("The table is in ")
    with open(path, encoding="utf-8") as file:
        table = json.load(file)
    assert table["format"] == "cabinwright-table" and len(table["outputs"]) == 9
    assert table["sample_rate_hz"] == 96000 and table["a_sign"] == "minus"


def refit(bench):
    """The same tune for the Rowan Van's coarse processor, in a file of its own."""
    profile, path = os.path.join(bench.folder, "coarse.json"), os.path.join(bench.folder, "coarse.cabin")
    with open(profile, "w", encoding="utf-8") as file:
        json.dump({"name": "Coarse", "sample_rate_hz": 48000, "sections_per_output": 7, "frequency_steps_per_octave": 3,
                   "gain_step_db": 0.5, "outputs": 10}, file)
    bench.press("Refit to another processor")
    bench.open_file(profile)
    bench.find("Name:", "text")
    time.sleep(0.7)
    bench.keys("ctrl+a")
    bench.type(path)
    bench.keys("Return")
    bench.find("Refitted with ", seconds=60)
    other = json.loads(bench.console("show", path, "--json"))
    assert other["processor"]["name"] == "Coarse"
    assert all(sum(s["use"] == "correction" for s in output["sections"]) <= 7 for output in other["tune"]["outputs"])


def name_a_restore_point(bench):
    bench.keys("ctrl+s")
    time.sleep(0.7)
    bench.keys("ctrl+a")
    bench.type("First tune")
    bench.keys("Return")
    bench.find("Restore point “First tune” is kept.")
    bench.press("Compare")
    bench.find("Nothing changed since “First tune”.")


def walk_and_look(bench):
    for number, name in enumerate(window_bench.STAGES, 1):
        bench.go_to_stage(number)
        bench.find(name, "label", prefix=False)
        bench.picture(f"stage-{number}")
    bench.keys("F9")
    bench.find("Findings")
    bench.press("Go there")
    bench.picture("findings")
    bench.keys("F9", "ctrl+question")
    bench.find("Silence at once")
    bench.picture("keys")
    bench.keys("Escape")
    bench.go_to_stage(9)
    bench.keys("F1")
    bench.find("The settings are shown as they will be written")
    bench.keys("Escape")


def pull_a_wire(bench):
    """By the keyboard: the chosen output's wire to the next channel, whose output takes its place, and back by undo."""
    def wires():
        return [channel["outputs"] for channel in bench.document()["amplifiers"][0]["channels"]]
    before = wires()
    bench.go_to_stage(4)
    bench.focus("Wires of the channel map", "image")
    bench.keys(*["Up"] * 9, "ctrl+Down")
    bench.wait(lambda: wires() == [[2], [1], *before[2:]])
    assert not any(proof["proven"] for proof in bench.document()["map_proofs"] if proof["output"] in (1, 2))
    bench.keys("ctrl+z")
    bench.wait(lambda: wires() == before)


def journey(bench):
    bench.open_the_practice_bay()
    edit_and_undo(bench)
    load_a_calibration(bench)
    pull_a_wire(bench)
    survey_the_radio(bench)
    record_and_stop(bench)
    look_for_the_rattle(bench)
    set_an_arrival(bench)
    propose_and_cancel(bench)
    listen_while_tuning(bench)
    steer_the_tune(bench)
    voice_the_tune(bench)
    shape_the_target(bench)
    prove(bench)
    export(bench)
    refit(bench)
    name_a_restore_point(bench)
    walk_and_look(bench)
    path = bench.vehicle_file()
    bench.quit()
    bench.console("check", path)
    print("ok")


window_bench.main(journey)
