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
    """Room, path within src/, and text of every file with one of the endings."""
    for room in ROOMS:
        for folder, _, names in sorted(os.walk(f"{SOURCE}/src/{room}")):
            for name in sorted(names):
                if name.endswith(endings):
                    path = pathlib.Path(folder, name)
                    yield room, str(path.relative_to(f"{SOURCE}/src")), path.read_text("utf-8")


def includes(text):
    return re.findall(r'^#include "([\w/]+\.h)"', text, re.M)


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
    """Path within src/ and compiled file of a room's sources; Meson writes the folders of a path with underscores."""
    known = {path.replace("/", "_") + ".o": path for r, path, _ in files(".c") if r == room}
    for folder, _, names in os.walk(f"{BUILD}/src"):
        owner = os.path.relpath(folder, f"{BUILD}/src").split(os.sep)[0]
        for name in names:
            path = known.get(name if owner.endswith(".p") else f"{owner}_{name}")
            if path:
                yield path, f"{folder}/{name}"


def folder_of(path):
    """The folder that a file of window/ stands in: "widgets", or for a stage "stages/NAME"."""
    return os.path.dirname(path).partition("/")[2]


# Folders of window/ that include only folders further up in this list, as DEVELOPERS.md says; stages come between.
WINDOW_FOLDERS = ["state", "widgets", "plan", "plots", "sound", "filters", "stages", "shell"]


def prototypes(text):
    """Every function that a header declares, and whether a comment stands above it or above its paragraph."""
    text = re.sub(r"^#.*(?:\\\n.*)*", "", text, flags=re.M)
    for found in re.finditer(r"^(?!typedef|static|extern|struct|enum|G_DECLARE|G_DEFINE|G_BEGIN|G_END|CW_|_Static)"
                             r"[A-Za-z_][^;{}/]*?\b(\w+)\([^;{}]*\)[^;{}]*;", text, re.M):
        yield found.group(1), "*/" in text[:found.start()].rsplit("\n\n", 1)[-1]


class House(unittest.TestCase):
    def test_finder_finds(self):
        self.assertEqual(find_circle({"a": {"b"}, "b": {"c"}, "c": {"b"}}), ["b", "c"])
        self.assertIsNone(find_circle({"a": {"b", "c"}, "b": {"c"}}))

    def test_every_room_is_listed(self):
        self.assertEqual(sorted(ROOMS), sorted(n for n in os.listdir(f"{SOURCE}/src") if os.path.isdir(f"{SOURCE}/src/{n}")))

    def test_rooms_include_rooms_further_up(self):
        for room, path, text in files(".c", ".h"):
            for header in includes(text):
                other = header.partition("/")[0]
                self.assertTrue(any(os.path.exists(f"{top}/src/{header}") for top in (SOURCE, BUILD)), f"{path}: {header}")
                self.assertLessEqual(ROOMS.index(other), ROOMS.index(room), f"{path} includes {header}")
                self.assertFalse(other in ("cli", "window") and other != room, f"{path} includes {header}")

    def test_window_folders_include_folders_further_up(self):
        for _, path, text in files(".c", ".h"):
            if not path.startswith("window/"):
                continue
            own = folder_of(path)
            for header in (h for h in includes(text) if h.startswith("window/")):
                other = folder_of(header)
                ranks = [WINDOW_FOLDERS.index(f.partition("/")[0]) for f in (other, own)]
                self.assertLessEqual(ranks[0], ranks[1], f"{path} includes {header}")
                if own.startswith("stages/") and other.startswith("stages/"):
                    self.assertEqual(own, other, f"{path} includes another stage's {header}")

    def test_folders_are_of_a_size(self):
        counts = {}
        for _, path, _ in files(".c", ".h"):
            counts[os.path.dirname(path)] = counts.get(os.path.dirname(path), 0) + 1
        for folder, count in counts.items():
            self.assertLessEqual(count, 25, folder)

    def test_headers_in_no_circle(self):
        graph = {path: set(includes(text)) for _, path, text in files(".h")}
        self.assertIsNone(find_circle(graph))

    def test_compiled_files_in_no_circle(self):
        for room in ROOMS:
            parts = {path: symbols(compiled_path) for path, compiled_path in compiled(room)}
            sources = {path for r, path, _ in files(".c") if r == room}
            self.assertEqual(sources - set(parts), set(), f"{room}: not compiled")
            giver = {symbol: path for path, (given, _) in parts.items() for symbol in given}
            graph = {path: {giver[s] for s in taken if s in giver} - {path} for path, (_, taken) in parts.items()}
            circle = find_circle(graph)
            self.assertIsNone(circle, f"{room}: " + " -> ".join(circle or ()))

    def test_contracts(self):
        """Every public function says above its prototype what it does; GLib's own patterns speak for themselves."""
        for _, path, text in files(".h"):
            for name, told in prototypes(text):
                self.assertTrue(told or name.endswith(("_quark", "_get_type")), f"{path}: {name} has no contract")

    def test_named_functions_exist(self):
        """What DEVELOPERS.md names as a function is one, so that its ways through the house stay true."""
        code = "".join(text for _, _, text in files(".c", ".h"))
        for name in set(re.findall(r"`(cw_\w+)\(\)`", pathlib.Path(SOURCE, "DEVELOPERS.md").read_text("utf-8"))):
            self.assertRegex(code, rf"\b{name}\(", name)

    def test_form(self):
        for _, path, text in files(".c", ".h"):
            self.assertTrue(text.startswith("/* SPDX-License-Identifier: GPL-3.0-or-later */\n"), path)
            if path.endswith(".h"):
                self.assertEqual(text.count("#pragma once\n"), 1, path)


unittest.main(argv=sys.argv[:1], verbosity=2)
