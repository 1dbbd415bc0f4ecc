# SPDX-License-Identifier: GPL-3.0-or-later
"""The factory signal through the window, in the practice bay: the guide, a wrong entry, leads in pairs, the survey, what is corrected by
hand."""
import window_bench


def survey_the_radio(bench):
    """The guide leads to the first track; a wrong entry is marked; the practice radio is surveyed, its leads and their mix are shown."""
    bench.go_to_stage(3)
    bench.find("Take 1 of 5")
    bench.find("1-leads.wav", "label", prefix=False)
    bench.enter("Leads on the inputs", "1 1")
    bench.press("Record this take")
    bench.find("Not recorded: see the entries that are marked.")
    record_in_pairs(bench)
    read_the_multimeter(bench)
    bench.press("Survey quickly")
    bench.find("The survey is there.", seconds=60)
    survey = bench.document()["survey"]
    assert [lead["side"] for lead in survey["leads"]] == ["left", "right", "left", "right", "both"], survey["leads"]
    bench.find("Lead 1: left, front")
    bench.press("Mix and correction", "page tab")
    bench.find("leads 1 + 3")
    bench.find("✓ use it")
    correct_by_hand(bench)
    bench.picture("survey")


def record_in_pairs(bench):
    """With an interface of two inputs the guide asks for one lead after the other beside the first, and stays at the take until all are
    heard. The second take has the shortest track."""
    bench.enter("Leads on the inputs", "2 1 5")
    bench.open_list("Recording")
    bench.keys("Down", "Return")
    assert bench.find("Takes", "list").get_selection_iface().select_child(1)
    bench.find("Take 2 of 5")
    bench.find("lead 2 on the first input, lead 1 on the second")
    bench.press("Record this take")
    bench.find("◐ 2 of 3 leads", seconds=60)
    bench.find("Take 2 of 5")
    bench.find("lead 2 on the first input, lead 5 on the second")
    bench.press("Record this take")
    bench.find("✓ 3 of 3 leads", seconds=60)
    bench.find("Take 3 of 5")
    bench.press("Forget these takes")
    bench.open_list("Recording")
    bench.keys("Up", "Return")
    bench.enter("Leads on the inputs", "1 2 3 4 5")


def correct_by_hand(bench):
    """A filter added to an input is undone and redone, told from what was worked out, and worked out again; a lead is left out and taken in."""
    def inputs():
        return bench.document()["tune"]["inputs"]
    worked_out = inputs()
    first = worked_out[0]["lead"]
    bench.find(f"Input 1: lead {first}\nas worked out")
    bench.press("Add a filter")
    bench.wait(lambda: len(inputs()[0]["sections"]) == len(worked_out[0]["sections"]) + 1)
    bench.find(f"Input 1: lead {first}\n✎ changed by hand")
    bench.keys("ctrl+z")
    bench.wait(lambda: inputs() == worked_out)
    bench.keys("ctrl+shift+z")
    bench.find(f"Input 1: lead {first}\n✎ changed by hand")
    bench.press("Work out again")
    bench.wait(lambda: inputs() == worked_out)
    bench.press("Leave out")
    bench.wait(lambda: all(entry["lead"] != first for entry in inputs()))
    bench.press("Take in again")
    bench.wait(lambda: inputs() == worked_out)


def read_the_multimeter(bench):
    """The volts track is recorded, the bay's multimeter read: the interface is full at the bay's 25 V, and that can be undone. A lead that is on
    no input is marked, an absurd reading refused."""
    assert bench.find("Takes", "list").get_selection_iface().select_child(5)
    bench.find("6-volts.wav", "label", prefix=False)
    bench.enter("Multimeter on lead", "7")
    bench.press("Record this take")
    bench.find("Not recorded: see the entries that are marked.")
    bench.enter("Multimeter on lead", "2")
    bench.press("Record this take")
    bench.find("The tone is there and steady.", seconds=60)
    reading = bench.text(bench.find("Multimeter reads", "text"))
    bench.enter("Multimeter reads", "0")
    bench.press("Use this reading")
    assert not bench.document().get("volts_reading")
    bench.enter("Multimeter reads", reading)
    bench.picture("volts")
    bench.press("Use this reading")
    bench.wait(lambda: bench.document().get("volts_reading"))
    told = bench.document()["volts_reading"]
    assert told["lead"] == 2 and abs(told["volts_per_full_scale"] / 25 - 1) < 0.003, told
    bench.find("The interface's input is full at")
    assert bench.find("Takes", "list").get_selection_iface().select_child(0)


def journey(bench):
    bench.open_the_practice_bay()
    survey_the_radio(bench)
    bench.quit()
    print("ok")


window_bench.main(journey)
