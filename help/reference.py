#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The contracts of all public functions as one HTML page for contributors: a chapter a room, in the rooms' order, with a picture
of who knows whom.

usage: reference.py SOURCE-FOLDER OUTPUT.html
"""
import html
import pathlib
import re
import sys

SOURCE, OUTPUT = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
GUIDE = (SOURCE / "DEVELOPERS.md").read_text("utf-8")
ROOMS = re.findall(r"^\| `(\w+)/` \| (.*?) \|", GUIDE, re.M)

STYLE = """body{font:15px/1.5 sans-serif;max-width:62rem;margin:2rem auto;padding:0 1rem;color:#222}
pre{background:#f3f3f0;padding:.6rem;overflow-x:auto}nav a{margin-right:1rem}h3{margin-top:2rem;border-bottom:1px solid #ccc}
code{background:#f3f3f0}svg{width:100%;height:auto}"""


def headers(room):
    return sorted(path for path in (SOURCE / "src" / room).rglob("*.h") if not path.name.endswith("_private.h"))


def includes(room):
    """The rooms that a room includes."""
    found = set()
    for path in (SOURCE / "src" / room).rglob("*.[ch]"):
        found |= set(re.findall(r'^#include "(\w+)/', path.read_text("utf-8"), re.M))
    return found - {room}


def paragraphs(text):
    """A header's paragraphs: the comment, and the code that it stands above."""
    text = re.sub(r"^(#|G_BEGIN|G_END).*(?:\\\n.*)*\n", "", text, flags=re.M)
    for part in re.split(r"\n\s*\n", text):
        part = part.strip("\n")
        comment = re.match(r"/\*(.*?)\*/", part, re.S)
        words = re.sub(r"\n \*", "\n", comment.group(1)).strip() if comment else ""
        code = part[comment.end():].strip("\n") if comment else part
        if words.startswith("SPDX"):
            continue
        if words or code:
            yield words, code


def picture():
    """Rooms in a row, an arc from each to every room that it includes."""
    names = [room for room, _ in ROOMS]
    step, base = 92, 330
    parts = [f'<svg viewBox="0 0 {step * len(names) + 20} 380" role="img" aria-label="Which room includes which">']
    for i, name in enumerate(names):
        for other in sorted(includes(name), key=names.index):
            k = names.index(other)
            x, y, radius = 55 + step * k, 55 + step * i, step * (i - k) / 2
            parts.append(f'<path d="M{x},{base - 14} A{radius},{radius * 0.62} 0 0 1 {y},{base - 14}" fill="none" stroke="#667" stroke-width="1"/>')
    for i, name in enumerate(names):
        parts.append(f'<a href="#{name}"><rect x="{12 + step * i}" y="{base - 14}" width="86" height="30" rx="4" fill="#e8eef4" stroke="#345"/>'
                     f'<text x="{55 + step * i}" y="{base + 6}" text-anchor="middle" font-size="14">{name}</text></a>')
    return "".join(parts) + "</svg>"


def chapter(room, holds):
    words = re.sub(r"`([^`]*)`", r"<code>\1</code>", html.escape(holds))
    yield f'<h2 id="{room}">{room}</h2><p>{words}</p>'
    for path in headers(room):
        yield f"<h3>{path.relative_to(SOURCE / 'src')}</h3>"
        for words, code in paragraphs(path.read_text("utf-8")):
            if words:
                yield f"<p>{html.escape(words)}</p>"
            if code:
                yield f"<pre>{html.escape(code)}</pre>"


page = ['<!DOCTYPE html><html lang="en"><meta charset="utf-8"><title>Cabinwright for contributors</title>', f"<style>{STYLE}</style>",
        "<h1>The rooms and what they promise</h1>", "<nav>", *(f'<a href="#{room}">{room}</a>' for room, _ in ROOMS), "</nav>", picture()]
for room, holds in ROOMS:
    page.extend(chapter(room, holds))
OUTPUT.parent.mkdir(parents=True, exist_ok=True)
OUTPUT.write_text("\n".join(page) + "</html>\n", "utf-8")
