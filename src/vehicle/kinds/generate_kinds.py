#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Writes the headers that the tables of fields imply. One has the enumerations of the words of choices; the other a
declaration for every kind of record, an identifier for every field, and typed functions that get and set it. The
tables are read as they stand in the C files, so that a field is said once.

usage: generate_kinds.py WORDS.h FIELDS.h TABLE.c ...
"""
import re
import sys

TOKEN = re.compile(r'"(?:\\.|[^"\\])*"|/\*.*?\*/|[A-Za-z_]\w*|[-+]?[\d.]+(?:e[-+]?\d+)?|\S', re.S)
FIRST_OF_KIND = 0x100  # how far apart the identifiers of two kinds begin

# By type of field: what is got and set, with the name of the functions that do it for any record.
VALUES = {
    "TEXT": ("const char *", "text"),
    "NUMBER": ("double ", "number"),
    "INTEGER": ("gint64 ", "integer"),
    "BOOLEAN": ("gboolean ", "boolean"),
    "CHOICE": ("int ", "choice"),
    "NUMBERS": ("const CwNumbers *", "numbers"),
    "NAMED": ("const CwNumbers *", "numbers"),
    "ROWS": ("const CwNumbers *", "numbers"),
    "CURVE": ("const CwNumbers *", "numbers"),
    "TEXTS": ("const char *const *", "texts"),
    "RECORD": ("CwRecord *", "child"),
    "RECORDS": ("CwList *", "children"),
}
ALWAYS_KNOWN = ("BOOLEAN",)
KNOWN_UNLESS_NULLABLE = ("NUMBER", "INTEGER", "CHOICE", "RECORD")


def tokens(text):
    return [t for t in TOKEN.findall(text) if not t.startswith("/*")]


def entries(words, shared, where):
    """The fields of a table's body: a list of members by name."""
    found, at = [], 0
    while at < len(words):
        if words[at] == ",":
            at += 1
        elif words[at] in shared:
            found += shared[words[at]]
            at += 1
        elif words[at] == "{":
            depth, end = 1, at + 1
            while depth:
                depth += {"{": 1, "}": -1}.get(words[end], 0)
                end += 1
            found.append(members(words[at + 1:end - 1], where))
            at = end
        else:
            sys.exit(f"{where}: expected a field, not {words[at]!r}")
    return found


def members(words, where):
    found, name, depth = {}, None, 0
    for at, word in enumerate(words):
        depth += {"(": 1, ")": -1}.get(word, 0)
        if word == "." and depth == 0 and words[at + 2] == "=":
            name = words[at + 1]
            found[name] = []
        elif name and not (word == "," and depth == 0) and words[at - 1:at] != ["."]:
            found[name].append(word)
    for name in ("key", "type"):
        if name not in found:
            sys.exit(f"{where}: a field without .{name}")
    return {name: "".join(w for w in value if w != "=") for name, value in found.items()}


def kinds(path):
    """Type, prefix and fields of every kind of a file, in order."""
    text = open(path, encoding="utf-8").read()
    shared, tables = {}, {}
    for name, body in re.findall(r"^#define (\w+_FIELDS) \\\n((?:.*\\\n)*.*)\n", text, re.M):
        shared[name] = entries(tokens(body.replace("\\\n", "\n")), {}, f"{path}: {name}")
    for name, body in re.findall(r"^static const CwField (\w+)\[\] = \{\n(.*?)^\};", text, re.M | re.S):
        tables[name] = entries(tokens(body), shared, f"{path}: {name}")
    for type_name, prefix, capitals, table in re.findall(
            r"^CW_DEFINE(?:_CHECKED)?_KIND\((\w+), (\w+), (\w+), (\w+)", text, re.M):
        if capitals != prefix.removeprefix("cw_").upper() or table not in tables:
            sys.exit(f"{path}: {type_name}: prefix, capitals and table do not belong together")
        yield type_name, prefix, capitals, tables[table]


def key_of(field):
    return field["key"].strip('"')


def identifier_of(capitals, key):
    return f"CW_{capitals}_FIELD_{key.upper()}"


def choices(path):
    """Table, type, prefix and words of every choice of a file; the prefix is empty where the enumeration is another's."""
    text = open(path, encoding="utf-8").read()
    for of, arguments, body in re.findall(
            r"^(?:static )?CW_CHOICES(_OF)?\(([\w, ]+)\) = \{(.*?)\{NULL, NULL\},?\s*\};", text, re.M | re.S):
        names = arguments.split(", ")
        words = re.findall(r'\{"([\w-]+)", N_\("', body)
        yield names[-1], names[0], "" if of else names[1], words


def accessors(prefix, identifier, field, types):
    """The functions of one field; types are those of choices by their table."""
    key, kind = key_of(field), field["type"].removeprefix("CW_FIELD_")
    if kind not in VALUES:
        sys.exit(f"{prefix}: {key}: unknown type {kind}")
    type_name, any_name = VALUES[kind]
    nullable = "CW_FIELD_NULLABLE" in field.get("flags", "")
    if kind == "CHOICE":
        type_name = types[field["choices"]] + " "

    def function(result, name, parameters, call):
        separator = "" if result.endswith("*") else " "
        back = "" if result == "void" else "return "
        return (f"static inline {result}{separator}{prefix}_{name}(CwRecord *record{parameters})\n"
                f"{{\n  {back}{call};\n}}\n")

    def plain(name, result, parameters="", arguments="", any_function=None):
        return function(result, name, parameters, f"cw_record_{any_function}_at(record, {identifier}{arguments})")

    value = type_name.strip()
    yield plain(f"get_{key}", value, any_function=f"get_{any_name}")
    if kind == "CHOICE":
        yield plain(f"get_{key}_word", "const char *", any_function="get_text")
        yield plain(f"say_{key}", "const char *", any_function="say_choice")
        yield plain(f"set_{key}_word", "void", ", const char *word", ", word", "set_text")
    if kind == "RECORD":
        yield plain(f"make_{key}", "CwRecord *", any_function="make_child")
    if kind == "RECORDS":
        yield plain(f"add_to_{key}", "CwRecord *", any_function="add_child")
    else:
        yield plain(f"set_{key}", "void", f", {type_name}value", ", value", f"set_{any_name}")
    if any_name == "numbers":
        yield plain(f"take_{key}", "void", ", CwNumbers *value", ", value", "take_numbers")
    if kind not in ALWAYS_KNOWN and (nullable or kind not in KNOWN_UNLESS_NULLABLE):
        yield plain(f"has_{key}", "gboolean", any_function="is_known")


def common(path):
    """What the kinds of a group have in common: prefix, types and keys."""
    text = open(path, encoding="utf-8").read()
    for prefix, types, keys in re.findall(r"^CW_COMMON_FIELDS\((\w+), \(([\w, ]+)\), \(([\w, ]+)\)\)", text, re.M):
        yield prefix, types.split(", "), keys.split(", ")


def common_accessors(prefix, kind_names, keys, by_type, types):
    """The functions of a group's fields: each finds out of which kind the record is."""
    tables = [{key_of(field): field for field in by_type[name][2]} for name in kind_names]
    yield (f"static inline CwFieldId {prefix}_field(CwRecord *record, const CwFieldId *fields)\n{{\n"
           + "".join(f"  if (G_OBJECT_TYPE(record) == {by_type[name][0]}_get_type())\n    return fields[{at}];\n"
                     for at, name in enumerate(kind_names[1:], 1))
           + "  return fields[0];\n}\n")
    for key in keys:
        if len({table[key]["type"] for table in tables}) > 1:
            sys.exit(f"{prefix}: {key}: not of one type")
        identifiers = ", ".join(identifier_of(by_type[name][1], key) for name in kind_names)
        yield from accessors(prefix, f"{prefix}_field(record, (CwFieldId[]){{{identifiers}}})", tables[0][key], types)


MADE = ["/* SPDX-License-Identifier: GPL-3.0-or-later */",
        "/* Made by generate_kinds.py from the tables of fields; a change belongs there. */", "#pragma once", ""]


def write(header, lines):
    with open(header, "w", encoding="utf-8") as file:
        file.write("\n".join(MADE + lines) + "\n")


def write_words(header, found, nullable):
    """The enumeration of every choice, in the order of its words; -1 where the choice may be empty and is."""
    out = []
    for table, name, prefix, words in found:
        if not prefix:
            continue
        words = [word.upper().replace("-", "_") for word in words]
        out += ["typedef enum {"] + ([f"  {prefix}_UNKNOWN = -1,"] if table in nullable else [])
        out += [f"  {prefix}_{word}," for word in words] + [f"}} {name};"]
        capitals = re.sub(r"(?<!^)([A-Z])", r"_\1", name).upper()
        out += [f"#define {capitals}_COUNT {len(words)}", ""]
    write(header, out)


def write_fields(header, paths, found, types):
    by_type = {name: rest for name, *rest in found}
    headers = {line for path in paths
               for line in re.findall(r'^#include "(?!vehicle/).*"$', open(path, encoding="utf-8").read(), re.M)}
    out = ["/* What the functions do is said in vehicle/record/value.h, what a field means in its table. */"]
    out += sorted(headers) + ['#include "vehicle/kinds/kind_words.h"', '#include "vehicle/record/record.h"',
                              '#include "vehicle/record/value.h"', "", "G_BEGIN_DECLS", ""]
    out += [f"CW_DECLARE_KIND({name}, {prefix}, {capitals})" for name, prefix, capitals, _ in found]
    for number, (name, prefix, capitals, fields) in enumerate(found, 1):
        first = f"{number * FIRST_OF_KIND:#x}"
        out += ["", f"/* {name} */", "enum {"]
        out += [f"  {identifier_of(capitals, key_of(field))}" + (f" = {first}," if at == 0 else ",")
                for at, field in enumerate(fields)]
        out += ["};", f"#define CW_{capitals}_FIRST_FIELD {first}", f"#define CW_{capitals}_N_FIELDS {len(fields)}", ""]
        for field in fields:
            out += accessors(prefix, identifier_of(capitals, key_of(field)), field, types)
    for path in paths:
        for prefix, names, keys in common(path):
            out += ["", f"/* {' or '.join(names)} */"]
            out += common_accessors(prefix, names, keys, by_type, types)
    out += ["", "/* Calls what(TYPE, IDENTIFIER, KEY) for every field of every kind, for tests. */",
            "#define CW_FOR_EACH_FIELD(what) \\"]
    out += [f"  what({prefix}_get_type(), {identifier_of(capitals, key_of(field))}, {field['key']}) \\"
            for _, prefix, capitals, fields in found for field in fields]
    write(header, out + ["", "G_END_DECLS"])


def main(words_header, fields_header, *paths):
    found = [kind for path in paths for kind in kinds(path)]
    words = [choice for path in paths for choice in choices(path)]
    nullable = {field["choices"] for *_, fields in found for field in fields
                if "choices" in field and "CW_FIELD_NULLABLE" in field.get("flags", "")}
    types = {table: name if prefix or table not in nullable else "int" for table, name, prefix, _ in words}
    write_words(words_header, words, nullable)
    write_fields(fields_header, paths, found, types)


if __name__ == "__main__":
    main(*sys.argv[1:])
