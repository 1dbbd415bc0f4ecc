# SPDX-License-Identifier: GPL-3.0-or-later
"""What is on the disk stays: no output takes the place of a vehicle file, of what the same call reads, of a device or of
what somebody else wrote; what is no plain file is refused unread; texts from files give no orders to a terminal.

Usage: cli-files.py CABINWRIGHT_CLI."""
import json
import os
import shutil
import subprocess
import sys
import time
import unittest

import numpy as np
from scipy.io import wavfile

import cli_bench
from cli_bench import Bench, intake

OUTPUTS = {
    "sweep": ("sweep", "car.cabin", "--output", 1, "--out"),
    "report": ("report", "car.cabin", "--out"),
    "table": ("table", "car.cabin", "--out"),
    "curve": ("curve", "car.cabin", "--output", 1, "--position", "driver/1", "--curve", "response", "--out"),
    "map": ("map", "car.cabin", "--output", 1, "--feed"),
    "proof": ("proof", "car.cabin", "--feed"),
}
INPUTS = (("check",), ("new", "new.cabin"), ("survey", "car.cabin"), ("refit", "car.cabin", "--out", "z.cabin", "--processor"),
          ("microphone", "car.cabin", "--calibration"), ("take", "car.cabin", "--output", 1, "--position", "driver/1"))


class Files(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.made = bench = Bench()
        bench.do("practice", "car.cabin")

    @classmethod
    def tearDownClass(cls):
        cls.made.close()

    def setUp(self):
        self.bench = Bench()
        self.addCleanup(self.bench.close)
        shutil.copy(self.made.path("car.cabin"), self.bench.path("car.cabin"))
        shutil.copy(self.made.path("car.cabin"), self.bench.path("other.cabin"))

    def bytes_of(self, name):
        with open(self.bench.path(name), "rb") as file:
            return file.read()

    def test_vehicle_files_stay(self):
        for name, verb in OUTPUTS.items():
            for target in ("car.cabin", "other.cabin"):
                for force in ((), ("--force",)):
                    before = self.bytes_of(target)
                    done = self.bench.run(*verb, target, *force)
                    self.assertNotEqual(done.returncode, 0, f"{name} {target}")
                    self.assertIn(target, done.stderr.decode())
                    self.assertEqual(self.bytes_of(target), before, f"{name} {target}")
        self.bench.do("check", "car.cabin")

    def test_links_to_vehicle_files(self):
        os.symlink("other.cabin", self.bench.path("link.wav"))
        os.link(self.bench.path("car.cabin"), self.bench.path("hard.wav"))
        before = self.bytes_of("other.cabin"), self.bytes_of("car.cabin")
        for target in ("link.wav", "hard.wav"):
            self.assertNotEqual(self.bench.run(*OUTPUTS["sweep"], target, "--force").returncode, 0)
        self.assertEqual((self.bytes_of("other.cabin"), self.bytes_of("car.cabin")), before)

    def test_own_files_are_renewed(self):
        for name, verb in OUTPUTS.items():
            self.bench.do(*verb, f"{name}.out")
            self.bench.do(*verb, f"{name}.out")
        self.bench.do("tracks", "tracks")
        self.bench.do("tracks", "tracks")
        left = [name for name in os.listdir(self.bench.folder) if name.startswith(".")]
        self.assertEqual(left, [])

    def test_others_files_need_force(self):
        wavfile.write(self.bench.path("recording.wav"), 48000, np.zeros(2000, np.float32))
        self.bench.write("sheet.json", '{"reference": "J-1"}\n')
        self.bench.write("notes.txt", "call on Friday\n")
        self.bench.write("letter.pdf", "%PDF-1.4\n% somebody's\n")
        for name, target in (("sweep", "recording.wav"), ("map", "sheet.json"), ("table", "sheet.json"), ("curve", "notes.txt"),
                             ("report", "letter.pdf"), ("proof", "notes.txt")):
            before = self.bytes_of(target)
            done = self.bench.run(*OUTPUTS[name], target)
            self.assertEqual(done.returncode, 1, name)
            self.assertIn("--force", done.stderr.decode())
            self.assertEqual(self.bytes_of(target), before)
        for name, target in (("sweep", "recording.wav"), ("table", "sheet.json"), ("report", "letter.pdf")):
            before = self.bytes_of(target)
            self.bench.do(*OUTPUTS[name], target, "--force")
            self.assertNotEqual(self.bytes_of(target), before)

    def test_inputs_of_the_call_stay(self):
        wavfile.write(self.bench.path("take.wav"), 48000, np.zeros(2000, np.float32))
        before = self.bytes_of("take.wav")
        done = self.bench.run("proof", "car.cabin", "take.wav", "--feed", "take.wav", "--force")
        self.assertEqual(done.returncode, 2)
        self.assertIn("read by this call", done.stderr.decode())
        self.assertEqual(self.bytes_of("take.wav"), before)

    def test_no_plain_file(self):
        os.mkfifo(self.bench.path("pipe"))
        os.mkdir(self.bench.path("folder"))
        for verb in INPUTS:
            for path, kind in (("pipe", "pipe"), ("/dev/zero", "device"), ("folder", "folder")):
                done = self.bench.run(*verb, path)
                self.assertEqual(done.returncode, 1, f"{verb} {path}")
                self.assertIn(kind, done.stderr.decode(), f"{verb} {path}")
                self.assertIn(os.path.basename(path), done.stderr.decode())
        for name, verb in OUTPUTS.items():
            for path in ("pipe", "/dev/null", "folder"):
                self.assertEqual(self.bench.run(*verb, path, "--force").returncode, 1, f"{name} {path}")
        self.assertFalse(os.path.isfile("/dev/null"))

    def test_odd_names(self):
        shutil.copy(self.bench.path("car.cabin"), self.bench.path("victim.cabin"))
        os.rename(self.bench.path("other.cabin"), self.bench.path("file:victim.cabin"))
        before = self.bytes_of("victim.cabin")
        self.bench.do("sweep", "file:victim.cabin", "--output", 1, "--level", -30, "--out", "feed.wav")
        self.assertEqual(self.bytes_of("victim.cabin"), before)
        noted = next(feed for feed in self.bench.ask("show", "file:victim.cabin")["feeds"] if feed["output"] == 1)
        self.assertEqual(noted["level_dbfs"], -30)
        os.rename(self.bench.path("victim.cabin"), self.bench.path("--help"))
        self.assertIn("Alder Tourer", self.bench.do("show", "--", "--help"))

    def test_terminal_obeys_nothing(self):
        orders = "\x1b]0;title\x07\x9b31m\x7f"
        sheet = {**json.loads(intake()), "description": "red" + orders}
        self.bench.write("sheet.json", json.dumps(sheet))
        self.bench.do("new", "orders.cabin", "sheet.json")
        shown = self.bench.do("show", "orders.cabin")
        machine = self.bench.run("show", "orders.cabin", "--json").stdout.decode()
        for text in (shown, machine):
            self.assertFalse(any(letter in text for letter in orders if not letter.isprintable()))
        self.assertEqual(self.bench.ask("show", "orders.cabin")["description"], "red" + orders)
        done = self.bench.run("show", "nothing\x1b[2J.cabin")
        self.assertNotIn(b"\x1b", done.stderr)

    def test_left_in_a_change(self):
        """A program that ended in the middle of a change, its pages partly written: who only reads sees the state before."""
        before = self.bench.ask("show", "car.cabin")
        child = subprocess.run([sys.executable, "-c", """if True:
            import os, sqlite3
            database = sqlite3.connect('car.cabin', isolation_level=None)
            database.execute('PRAGMA cache_size = 2')
            database.execute('BEGIN IMMEDIATE')
            database.execute("UPDATE samples SET data = zeroblob(length(data))")
            database.execute("UPDATE document SET json = '{}'")
            os._exit(9)"""], cwd=self.bench.folder, check=False)
        self.assertEqual(child.returncode, 9)
        self.assertTrue(os.path.exists(self.bench.path("car.cabin-journal")))
        self.bench.do("check", "car.cabin")
        self.assertEqual(self.bench.ask("show", "car.cabin"), before)
        self.assertFalse(os.path.exists(self.bench.path("car.cabin-journal")))

    def test_killed_while_writing(self):
        """Nothing stays behind of a table that was being written when the program ended: 40 kills at as many times."""
        self.bench.do(*OUTPUTS["table"], "table.json")
        whole = self.bytes_of("table.json")


        for i in range(40):
            program = subprocess.Popen([cli_bench.PROGRAM, *map(str, OUTPUTS["table"]), "table.json"], cwd=self.bench.folder,
                                       stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            time.sleep(0.002 * i)
            program.kill()
            program.wait()
            self.assertEqual(self.bytes_of("table.json"), whole)
        self.bench.do(*OUTPUTS["table"], "table.json")
        strays = set(os.listdir(self.bench.folder)) - {"car.cabin", "other.cabin", "table.json"}
        self.assertEqual(strays, set())


if __name__ == "__main__":
    cli_bench.main(__name__)
