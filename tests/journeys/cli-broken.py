# SPDX-License-Identifier: GPL-3.0-or-later
"""Broken input through the console program: one line that names file, place and what was expected; status 1; nothing half
written, nothing changed, no crash.

Usage: cli-broken.py CABINWRIGHT_CLI."""
import json
import os
import random
import resource
import shutil
import signal as signals
import sqlite3
import struct
import subprocess
import tempfile
import time
import unittest

import numpy as np

import cli_bench
from cli_bench import CAR, RATE_HZ, Bench, intake, read_wav, record, write_wav

SEED = int(os.environ.get("JOURNEY_SEED", 0)) or random.SystemRandom().randrange(1, 1 << 31)
LOOP_SECONDS = 5
LEAST_ROUNDS = 20


def sheet(change):
    """The intake sheet with a change made to its parsed form."""
    parsed = json.loads(intake())
    change(parsed)
    return json.dumps(parsed)


def fill(path):
    """Writes until the disk is full."""
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT)
    try:
        while True:
            os.write(descriptor, bytes(4096))
    except OSError:
        os.close(descriptor)


class Broken(unittest.TestCase):
    def setUp(self):
        self.bench = Bench()
        self.addCleanup(self.bench.close)
        self.bench.write("intake.json", intake())
        self.bench.do("new", "car.cabin", "intake.json")

    def feed(self, output=1):
        self.bench.do("sweep", "car.cabin", "--output", output, "--out", "feed.wav")
        return read_wav(self.bench.path("feed.wav"))[1][0]

    def take_fails(self, recording, *naming):
        return self.bench.fails("take", "car.cabin", "--output", 1, "--position", "driver/1", recording, naming=(recording, *naming))


class Recordings(Broken):
    """Sound files that cannot be analysed at all."""

    def test_not_sound(self):
        feed = self.feed()
        good = record(feed, CAR[0], 0)
        write_wav(self.bench.path("good.wav"), good)
        with open(self.bench.path("good.wav"), "rb") as file:
            whole = file.read()
        for name, content, naming in (
                ("empty.wav", b"", "WAV"), ("text.wav", b"this is no sound\n" * 100, "WAV"), ("header.wav", whole[:30], ""),
                ("cut.wav", whole[:len(whole) // 2], "cut off"), ("png.wav", b"\x89PNG\r\n\x1a\n" + bytes(1000), "WAV")):
            self.bench.write(name, content)
            self.take_fails(name, naming)
        self.take_fails("missing.wav", "no such file")
        os.mkdir(self.bench.path("folder.wav"))
        self.take_fails("folder.wav")

    def test_wrong_rates(self):
        samples = [np.zeros(100), np.zeros(100)]
        for rate_hz in (8000, 22050, 500000):
            write_wav(self.bench.path("rate.wav"), samples, rate_hz)
            self.take_fails("rate.wav", str(rate_hz), "32000")

    def test_not_numbers(self):
        raw = np.full(4000, np.nan, "<f4").tobytes()
        header = b"RIFF" + struct.pack("<I", 36 + len(raw)) + b"WAVEfmt " + struct.pack("<IHHIIHH", 16, 3, 2, RATE_HZ, 8 * RATE_HZ, 8, 32)
        self.bench.write("nan.wav", header + b"data" + struct.pack("<I", len(raw)) + raw)
        self.take_fails("nan.wav", "frame 0")

    def test_refused_takes(self):
        """Silent, clipped, too short, noisy: analysed, refused, and kept with the reason."""
        feed = self.feed()
        microphone, loop = record(feed, CAR[0], 0)
        loud = np.clip(microphone / np.max(np.abs(microphone)) * 1.6, -1, 1)
        noise = 0.3 * np.random.default_rng(5).standard_normal(len(microphone))
        for name, channels in (("silent", [0 * microphone, loop]), ("clipped", [loud, loop]), ("short", [microphone[:RATE_HZ], loop[:RATE_HZ]]),
                               ("noisy", [np.clip(microphone + noise, -0.95, 0.95), loop]), ("unplugged", [microphone, 0 * loop])):
            write_wav(self.bench.path(f"{name}.wav"), channels)
            take = self.bench.ask("take", "car.cabin", "--output", 1, "--position", "driver/1", "--timing", "loopback", f"{name}.wav")
            self.assertFalse(take["accepted"], name)
            self.assertTrue(take["reasons"], name)
            done = self.bench.run("take", "car.cabin", "--output", 1, "--position", "driver/1", "--timing", "loopback", f"{name}.wav")
            self.assertEqual((done.returncode, done.stderr.count(b"\n"), done.stdout), (1, 1, b""))
            self.assertIn(f"{name}.wav", done.stderr.decode())
            self.assertIn(take["reasons"][0], done.stderr.decode())
        codes = [finding["code"] for finding in self.bench.ask("findings", "car.cabin")["findings"]]
        self.assertIn("take-refused", codes)

    def test_something_else(self):
        """Music, or another's recording, is not taken for the feed."""
        frames = len(self.feed()) + 9600
        noise = np.random.default_rng(3).standard_normal((2, frames)) * 0.1
        write_wav(self.bench.path("other.wav"), list(noise))
        for timing in ("loopback", "none"):
            take = self.bench.ask("take", "car.cabin", "--output", 1, "--position", "driver/1", "--timing", timing, "other.wav")
            self.assertFalse(take["accepted"])
            self.assertTrue(take["reasons"])

    def test_wrong_places(self):
        write_wav(self.bench.path("good.wav"), record(self.feed(), CAR[0], 0))
        for output, position, naming in ((9, "driver/1", "output 9"), (1, "driver", "driver/1"), (1, "driver/3", "driver/3"),
                                         (1, "passenger/1", "passenger"), (1, "/1", "seat")):
            self.bench.fails("take", "car.cabin", "--output", output, "--position", position, "good.wav", naming=("good.wav", naming))


class Sheets(Broken):
    """Intake sheets that are refused with their place."""

    def refused(self, content, *naming):
        self.bench.write("bad.json", content)
        self.bench.fails("new", "other.cabin", "bad.json", naming=("bad.json", *naming))

    def test_syntax(self):
        for content in ("", "{", "[1,2", "nothing", '{"reference":"J-0147",}', '{"reference":"J-0147"} x', "{'reference':'J'}", '{"reference":\'J\'}',
                        '{"reference":"J","speakers":[],"x":1e400}', '{"reference":"J","speakers":[],"x":-1e999}', '{"reference":"J","speakers":[],"x":01}',
                        '{"reference":"J","speakers":[],"x":NaN}', '{"reference":"J","speakers":[]}\0', '{"reference":"J\\u0000","speakers":[]}',
                        '{"reference":"J","reference":"K","speakers":[]}', "[" * 100000, '{"x":' * 100000, '{"reference":"J","speakers":' + "[" * 100000,
                        "\xff\xfe{\0}\0"):
            self.refused(content)
        self.refused(b'{"reference":"\xff\xfe","speakers":[]}')

    def test_types(self):
        for change, place in (
                (lambda s: s.update(reference=7), "reference"), (lambda s: s.pop("reference"), "reference"), (lambda s: s.pop("speakers"), "speakers"),
                (lambda s: s.update(speakers={}), "speakers"), (lambda s: s["speakers"].append(3), "speakers[5]"),
                (lambda s: s["speakers"][2].update(lowest_hz=4), "speakers[2].lowest_hz"), (lambda s: s["speakers"][2].update(lowest_hz="40"), "speakers[2].lowest_hz"),
                (lambda s: s["speakers"][1].update(way="middle"), "speakers[1].way"), (lambda s: s["speakers"][3].update(output=1), "speakers[3]"),
                (lambda s: s["speakers"][3].update(output=1.5), "speakers[3].output"), (lambda s: s["speakers"][0].update(output=10 ** 30), "speakers[0].output"),
                (lambda s: s.update(target=[[20, 0], [10, 0]]), "target[1]"), (lambda s: s.update(target=[[20]]), "target[0]"),
                (lambda s: s["amplifiers"][0]["channels"][0].update(outputs=[8]), "amplifiers[0].channels[0].outputs[0]"),
                (lambda s: s["amplifiers"][0]["channels"][4].update(bridged_with=7), "amplifiers[0].channels[4].bridged_with"),
                (lambda s: s["amplifiers"].append(dict(s["amplifiers"][0])), "amplifiers[1]"),
                (lambda s: s["processor"].update(gain_db=[12, -60]), "processor.gain_db"), (lambda s: s.update(seats=[]), "seats"),
                (lambda s: s.update(seats=["driver", "driver"]), "seats[1]"), (lambda s: s.update(seats=["driver", "rear/left"]), "seats[1]"),
                (lambda s: s.update(seats=["rear\nleft"]), "seats[0]"), (lambda s: s["supply"].update(running_v=1e300), "supply.running_v")):
            self.refused(sheet(change), place)

    def test_not_there(self):
        self.bench.fails("new", "other.cabin", "missing.json", naming=("missing.json",))
        self.bench.fails("new", "other.cabin", ".", naming=(".",))
        self.bench.fails("new", "not/there.cabin", "intake.json", naming=("not/there.cabin",))
        self.bench.fails("new", "car.cabin", "intake.json", naming=("car.cabin",))


class Projects(Broken):
    """Project files that are damaged, strange, or of another version."""

    verbs = (("show",), ("findings",), ("electrics",), ("tune",), ("table", "--out", "t.json"), ("report", "--out", "r.pdf"), ("check",))

    def test_cut(self):
        with open(self.bench.path("car.cabin"), "rb") as file:
            whole = file.read()
        generator = random.Random(SEED)
        places = sorted({0, 1, 15, 16, 99, 100, 4095, 4096, len(whole) - 1, *(generator.randrange(len(whole)) for _ in range(41))})
        for count, place in enumerate(places):
            self.bench.write("cut.cabin", whole[:place])
            verb = self.verbs[count % len(self.verbs)]
            self.bench.fails(verb[0], "cut.cabin", *verb[1:], naming=("cut.cabin",))
        self.assertGreaterEqual(len(places), 45, f"seed {SEED}")

    def test_strange(self):
        self.bench.write("text.cabin", "not a project\n")
        with sqlite3.connect(self.bench.path("other.cabin")) as database:
            database.execute("CREATE TABLE t (x)")
        database.close()
        for verb in self.verbs:
            for name in ("text.cabin", "other.cabin", "missing.cabin"):
                self.bench.fails(verb[0], name, *verb[1:], naming=(name,))

    def test_newer(self):
        database = sqlite3.connect(self.bench.path("car.cabin"))
        database.execute("PRAGMA user_version = 999")
        database.commit()
        database.close()
        for verb in self.verbs:
            self.bench.fails(verb[0], "car.cabin", *verb[1:], naming=("car.cabin", "later"))

    def test_no_tune(self):
        self.bench.fails("table", "car.cabin", "--out", "t.json", naming=("car.cabin", "tune"))
        self.bench.fails("tune", "car.cabin", naming=("car.cabin", "output 1"))
        self.bench.fails("tune", "car.cabin", "--seat", "boot", naming=("car.cabin", "boot"))
        self.bench.fails("practice", "car.cabin.not/there", naming=("car.cabin.not/there",))


class Tables(Broken):
    def test_check(self):
        section = {"use": "correction", "kind": "peaking", "frequency_hz": 100, "gain_db": 1, "q": 1, "b": [1, 0, 0], "a": [1, 0, 0]}
        output = {"output": 1, "name": "x", "mix": {"left": 1, "right": 0}, "gain_db": 0, "polarity": "normal", "delay_samples": 0, "delay_ms": 0, "sections": [section]}
        table = {"format": "cabinwright-table", "version": 1, "sample_rate_hz": 48000, "a_sign": "minus", "outputs": [output], "inputs": []}
        self.bench.write("table.json", json.dumps(table))
        self.bench.do("check", "table.json")
        for key, value, naming in (("format", "other", "neither"), ("sample_rate_hz", 0, "sample_rate_hz"), ("sample_rate_hz", "48000", "sample_rate_hz"), ("a_sign", "up", "a_sign"),
                                   ("a_sign", 1, "a_sign"), ("outputs", {}, "outputs"), ("outputs", [output, output], "outputs[1]"), ("outputs", [5], "outputs[0]"),
                                   ("outputs", [{**output, "sections": [{**section, "a": [1, 0]}]}], "outputs[0].sections[0]"),
                                   ("outputs", [{**output, "sections": [{**section, "a": [1, "x", 0]}]}], "outputs[0].sections[0]"),
                                   ("outputs", [{**output, "sections": [{**section, "a": [1, 0, 1.001]}]}], "outputs[0].sections[0]"),
                                   ("outputs", [{**output, "sections": [{**section, "a": [1, 1e300, -1e300]}]}], "outputs[0].sections[0]"),
                                   ("outputs", [{**output, "sections": 3}], "outputs[0].sections"), ("outputs", [{**output, "gain_db": None}], "outputs[0]")):
            self.bench.write("bad.json", json.dumps({**table, key: value}))
            done = self.bench.run("check", "bad.json")
            self.assertEqual(done.returncode, 1, (key, value))
            self.assertEqual(done.stderr.count(b"\n"), 1)
            self.assertIn(naming, done.stderr.decode())
        for content in ("", "[]", "3", "null", "[" * 100000, '{"format":"cabinwright-table","sample_rate_hz":1e400}'):
            self.bench.write("bad.json", content)
            self.assertEqual(self.bench.run("check", "bad.json").returncode, 1, content[:20])


class Usage(Broken):
    def test_wrong_usage(self):
        for arguments in (("juggle",), ("new", "a.cabin"), ("new",), ("show",), ("show", "car.cabin", "more"), ("sweep", "car.cabin", "--out", "f.wav"),
                          ("sweep", "car.cabin", "--output", "1"), ("sweep", "car.cabin", "--output", "x", "--out", "f.wav"), ("take", "car.cabin", "--output", "1", "f.wav"),
                          ("take", "car.cabin", "--output", "1", "--position", "driver/1", "--timing", "sundial", "f.wav"), ("table", "car.cabin"),
                          ("table", "car.cabin", "--out", "t", "--fixed", "9.9"), ("table", "car.cabin", "--out", "t", "--a-sign", "both"), ("table", "car.cabin", "--out", "t", "--format", "xml"), ("report", "car.cabin"),
                          ("tune", "car.cabin", "--seats", "some"), ("electrics",), ("findings", "car.cabin", "--loudly"), ("check",)):
            self.bench.fails(*arguments, code=2)
        self.assertEqual(self.bench.run().returncode, 2)
        self.assertIn("electrics", self.bench.do("--help"))

    def test_wrong_values(self):
        for level in (0, 20, -200, "nan"):
            self.bench.fails("sweep", "car.cabin", "--output", 1, "--level", level, "--out", "f.wav", naming=("car.cabin", "level"))
        self.bench.fails("sweep", "car.cabin", "--output", 1, "--marker", 1, "--out", "f.wav", naming=("marker",))
        self.bench.fails("sweep", "car.cabin", "--output", 40, "--out", "f.wav", naming=("output 40",))
        self.bench.fails("sweep", "car.cabin", "--output", 1, "--out", "not/there.wav", naming=("not/there.wav",))
        self.bench.fails("report", "car.cabin", "--out", ".", naming=(".",))


class Storage(Broken):
    """Folders that cannot be written and disks that are full: the project stays as it was."""

    def limited(self, limit_bytes):
        def limit():
            signals.signal(signals.SIGXFSZ, signals.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit_bytes, limit_bytes))
        return limit

    def test_full(self):
        """The disk takes so many bytes of a file and no more."""
        for limit_bytes in (0, 1000, 5000):
            self.bench.fails("report", "car.cabin", "--out", "r.pdf", naming=("r.pdf",), preexec_fn=self.limited(limit_bytes))
            self.bench.fails("new", "new.cabin", "intake.json", naming=("new.cabin",), preexec_fn=self.limited(limit_bytes))
            self.bench.fails("sweep", "car.cabin", "--output", 1, "--out", "f.wav", naming=("f.wav",), preexec_fn=self.limited(limit_bytes))

    def test_full_project(self):
        """A take that does not fit into the file any more leaves the file as it was."""
        write_wav(self.bench.path("good.wav"), record(self.feed(), CAR[0], 0))
        size = os.path.getsize(self.bench.path("car.cabin"))
        self.bench.fails("take", "car.cabin", "--output", 1, "--position", "driver/1", "good.wav", naming=("car.cabin",), preexec_fn=self.limited(size + 1000))
        self.bench.do("check", "car.cabin")

    def test_full_disk(self):
        disk = self.bench.path("disk")
        os.mkdir(disk)
        if os.geteuid() != 0 or subprocess.run(["mount", "-t", "tmpfs", "-o", "size=160k", "tmpfs", disk], capture_output=True).returncode != 0:
            self.skipTest("no small disk can be mounted here")
        try:
            shutil.copy(self.bench.path("car.cabin"), disk)
            write_wav(self.bench.path("good.wav"), record(self.feed(), CAR[0], 0))
            fill(os.path.join(disk, "filler"))
            self.bench.fails("take", "disk/car.cabin", "--output", 1, "--position", "driver/1", "good.wav", naming=("disk/car.cabin",))
            self.bench.fails("report", "car.cabin", "--out", "disk/r.pdf", naming=("disk/r.pdf",))
            self.bench.fails("sweep", "car.cabin", "--output", 1, "--out", "disk/f.wav", naming=("disk/f.wav",))
            self.bench.do("check", "disk/car.cabin")
        finally:
            subprocess.run(["umount", disk], check=True)

    def test_read_only(self):
        """A folder in which nothing may be written: reading works, writing says so."""
        shut = tempfile.mkdtemp(prefix="journey-")
        self.addCleanup(shutil.rmtree, shut, True)
        self.addCleanup(os.chmod, shut, 0o700)
        shutil.copy(self.bench.path("car.cabin"), shut)
        os.chmod(os.path.join(shut, "car.cabin"), 0o444)
        os.chmod(shut, 0o555)
        more = {"user": 65534} if os.geteuid() == 0 else {}
        os.chmod(self.bench.folder, 0o755)
        try:
            if subprocess.run([cli_bench.PROGRAM, "--version"], capture_output=True, **more).returncode != 0:
                self.skipTest("the program cannot be run by another user here")
        except PermissionError:
            self.skipTest("the program cannot be run by another user here")
        car = os.path.join(shut, "car.cabin")
        self.bench.ask("show", car, **more)
        self.bench.ask("electrics", car, **more)
        self.bench.fails("sweep", car, "--output", 1, "--out", os.path.join(shut, "f.wav"), naming=("f.wav",), **more)
        self.bench.fails("report", car, "--out", os.path.join(shut, "r.pdf"), naming=("r.pdf",), **more)
        self.bench.fails("new", os.path.join(shut, "new.cabin"), self.bench.path("intake.json"), naming=("new.cabin",), **more)
        self.assertEqual(os.listdir(shut), ["car.cabin"])


class Mutations(Broken):
    """Random damage, for a time and so often at least; JOURNEY_SEED repeats a run."""

    def loop(self, whole, name, regions, arguments):
        generator, end, count = random.Random(SEED), time.monotonic() + LOOP_SECONDS, 0
        while time.monotonic() < end or count < LEAST_ROUNDS:
            bytes_ = bytearray(whole)
            for _ in range(generator.choice((1, 1, 2, 5, 20))):
                low, high = generator.choice(regions)
                at = generator.randrange(low, min(high, len(bytes_)))
                bytes_[at] = generator.choice((0, 1, 0x7F, 0x80, 0xFF, generator.randrange(256)))
            self.bench.write(name, bytes(bytes_))
            done = self.bench.run(*arguments)
            self.assertLessEqual(done.stderr.count(b"\n"), 1, f"seed {SEED}, round {count}: {done.stderr!r}")
            self.assertEqual(done.returncode == 0, done.stderr == b"", f"seed {SEED}, round {count}")
            count += 1
        print(f"{name}: {count} mutations, seed {SEED}")

    def test_wav_headers(self):
        write_wav(self.bench.path("mutant.wav"), [x[:4000] for x in record(self.feed(), CAR[0], 0)])
        with open(self.bench.path("mutant.wav"), "rb") as file:
            whole = file.read()
        self.loop(whole, "mutant.wav", [(0, 44), (0, 44), (36, 60)], ("take", "car.cabin", "--output", 1, "--position", "driver/1", "mutant.wav"))
        self.bench.do("check", "car.cabin")

    def test_projects(self):
        with open(self.bench.path("car.cabin"), "rb") as file:
            whole = file.read()
        self.loop(whole, "mutant.cabin", [(0, 100), (0, 4096), (0, len(whole))], ("show", "mutant.cabin"))


if __name__ == "__main__":
    print(f"seed {SEED}")
    cli_bench.main(__name__)
