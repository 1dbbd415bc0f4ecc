# SPDX-License-Identifier: GPL-3.0-or-later
"""Troubled recordings: of each the survey says what is right, or says what is wrong.

    survey-troubles.py build/src/cabinwright-cli [--class N] [--radio NAME] [--name PART]

prints a table by class: right; told with the right cause; told with another; refused; silently wrong. The status is 1 where one
is silently wrong, or none was tried. The test run takes the worst kinds on one radio; without options all are taken, which needs
some minutes."""
import argparse
import os
import sys

import radio_bench as bench
from trouble_bench import Session, verdict
from trouble_cases import CASES, RADIOS

VERDICTS = ("right", "told", "other", "refused", "silent")


class Runner:
    def __init__(self):
        self.bench = bench.Bench()
        self.usual = {}

    def usual_codes(self, name, radio):
        """What the survey finds of the radio itself."""
        if name not in self.usual:
            survey, _ = self.bench.survey(Session(self.bench, radio).listed())
            self.usual[name] = set(bench.codes(survey))
        return self.usual[name]

    def judge(self, name, radio, entry):
        _, _, causes, function, more = entry
        usual = self.usual_codes(name, radio)
        session = Session(self.bench, radio)
        function(session)
        try:
            survey, _ = self.bench.survey(session.listed())
        except AssertionError as error:
            return "silent", "failed: " + str(error)[:200]
        return verdict(session.radio, survey, causes or ("nothing at all",), usual, more.get("top_step", bench.TOP_STEP))


def run_all(options):
    runner = Runner()
    counts = {}
    for name, make in RADIOS.items():
        if options.radio and options.radio != name:
            continue
        radio = make()
        for entry in CASES:
            if (options.group is not None and entry[0] not in options.group) or (options.name and options.name not in entry[1]):
                continue
            word, text = runner.judge(name, radio, entry)
            counts.setdefault(entry[0], dict.fromkeys(VERDICTS, 0))[word] += 1
            print(f"{entry[0]:2} {word:8} {name:8} {entry[1]}: {text}", flush=True)
    print("class " + " ".join(f"{word:>8}" for word in VERDICTS))
    for group in sorted(counts):
        print(f"{group:5} " + " ".join(f"{counts[group][word]:8}" for word in VERDICTS))
    print("  all " + " ".join(f"{sum(c[word] for g, c in counts.items() if g):8}" for word in VERDICTS))
    runner.bench.close()
    return 1 if not counts or any(c["silent"] for c in counts.values()) else 0


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("cli")
    parser.add_argument("--class", dest="group", type=int, action="append")
    parser.add_argument("--radio")
    parser.add_argument("--name")
    options = parser.parse_args()
    bench.PROGRAM = os.path.abspath(options.cli)
    return run_all(options)


if __name__ == "__main__":
    sys.exit(main())
