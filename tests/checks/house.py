#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The order of the house, as DEVELOPERS.md lists it: a room includes only rooms further up; within a room the headers
and the compiled files, by what they take from each other, go round in no circle; and the files' rules of form hold.

usage: house.py SOURCE-FOLDER BUILD-FOLDER
"""
import os
import pathlib
import re
import subprocess
import sys
import unittest

SOURCE, BUILD = sys.argv[1:3]
ROOMS = re.findall(r"^\| `(\w+)/` \|", pathlib.Path(SOURCE, "DEVELOPERS.md").read_text("utf-8"), re.M)


def files(*endings):
    for room in ROOMS:
        for name in sorted(os.listdir(f"{SOURCE}/src/{room}")):
            if name.endswith(endings):
                yield room, name, pathlib.Path(SOURCE, "src", room, name).read_text("utf-8")


def includes(text):
    return re.findall(r'^#include "(\w+)/(\w+\.h)"', text, re.M)


def find_circle(graph):
    """A list of nodes each of which leads to the next and the last to the first; None if there is none."""
    done, path = set(), []

    def visit(node):
        if node in path:
            return path[path.index(node):]
        if node in done:
            return None
        path.append(node)
        for after in sorted(graph.get(node, ())):
            circle = visit(after)
            if circle:
                return circle
        path.pop()
        done.add(node)
        return None

    for node in sorted(graph):
        circle = visit(node)
        if circle:
            return circle
    return None


def symbols(path):
    """What a compiled file gives and what it takes."""
    given, taken = set(), set()
    for line in subprocess.run(["nm", "-P", path], check=True, capture_output=True, text=True).stdout.splitlines():
        name, kind = line.split()[:2]
        if kind in "TDBRC":
            given.add(name)
        elif kind == "U":
            taken.add(name)
    return given, taken


def compiled(room):
    """The compiled files of a room: a library's in their own folder, a program's beside it under the room's name."""
    for folder, _, names in os.walk(f"{BUILD}/src"):
        for name in names:
            if not name.endswith(".c.o"):
                continue
            if os.path.basename(os.path.dirname(folder)) == room:
                yield name[:-2], f"{folder}/{name}"
            elif name.startswith(room + "_") and os.path.exists(f"{SOURCE}/src/{room}/{name[len(room) + 1:-2]}"):
                yield name[len(room) + 1:-2], f"{folder}/{name}"


class House(unittest.TestCase):
    def test_finder_finds(self):
        self.assertEqual(find_circle({"a": {"b"}, "b": {"c"}, "c": {"b"}}), ["b", "c"])
        self.assertIsNone(find_circle({"a": {"b", "c"}, "b": {"c"}}))

    def test_every_room_is_listed(self):
        self.assertEqual(sorted(ROOMS), sorted(n for n in os.listdir(f"{SOURCE}/src") if os.path.isdir(f"{SOURCE}/src/{n}")))

    def test_rooms_include_rooms_further_up(self):
        for room, name, text in files(".c", ".h"):
            for other, header in includes(text):
                self.assertTrue(os.path.exists(f"{SOURCE}/src/{other}/{header}"), f"{room}/{name}: {other}/{header}")
                self.assertLessEqual(ROOMS.index(other), ROOMS.index(room), f"{room}/{name} includes {other}/{header}")
                self.assertFalse(other in ("cli", "window") and other != room, f"{room}/{name} includes {other}/{header}")

    def test_headers_in_no_circle(self):
        graph = {f"{room}/{name}": {f"{other}/{header}" for other, header in includes(text)}
                 for room, name, text in files(".h")}
        self.assertIsNone(find_circle(graph))

    def test_compiled_files_in_no_circle(self):
        for room in ROOMS:
            parts = {name: symbols(path) for name, path in compiled(room)}
            sources = {name for r, name, _ in files(".c") if r == room}
            self.assertEqual(sources - set(parts), set(), f"{room}: not compiled")
            giver = {symbol: name for name, (given, _) in parts.items() for symbol in given}
            graph = {name: {giver[s] for s in taken if s in giver} - {name} for name, (_, taken) in parts.items()}
            circle = find_circle(graph)
            self.assertIsNone(circle, f"{room}: " + " -> ".join(circle or ()))

    def test_form(self):
        for room, name, text in files(".c", ".h"):
            self.assertTrue(text.startswith("/* SPDX-License-Identifier: GPL-3.0-or-later */\n"), f"{room}/{name}")
            if name.endswith(".h"):
                self.assertEqual(text.count("#pragma once\n"), 1, f"{room}/{name}")


unittest.main(argv=sys.argv[:1], verbosity=2)
