#!/usr/bin/env python3
"""No circle between crates, between the rooms of a crate, or between its files.

A room is a folder or file directly under a crate's `src/`. A file uses another one where a path in its code (`crate::`,
`super::`, `self::`, or by a name that a `use` brought in) leads to an item that the other one holds; what a `pub use`
hands on is followed to where it is written, so a file that only declares its modules and hands on their items is used by
nobody. What tests use is not asked: whatever stands under `#[cfg(test)]`. Every circle is printed, with the names that
make it. `rooms.py CRATE...` asks these crates only.
"""

import json
import re
import subprocess
import sys
from pathlib import Path

TOKEN = re.compile(
    r"""//[^\n]*|/\*.*?\*/|b?r(?P<mark>\#*)".*?"(?P=mark)|b?"(?:\\.|[^"\\])*"|b?'(?:\\[^']*|[^\\'])'"""
    r"""|'\w+|(?P<code>r\#\w+|\w+|::|\S)""",
    re.DOTALL,
)
ITEMS = {"fn", "struct", "enum", "union", "trait", "type", "const", "static", "macro_rules"}
CLOSING = {"{": "}", "(": ")", "[": "]"}


def tokens_of(text):
    """The words and signs of the code, without comments and literals."""
    return [found["code"] for found in TOKEN.finditer(text) if found["code"]]


def group_end(tokens, start):
    """Behind the bracket that closes the one at `start`."""
    depth = 0
    for place in range(start, len(tokens)):
        depth += (tokens[place] in CLOSING) - (tokens[place] in CLOSING.values())
        if depth == 0:
            return place + 1
    return len(tokens)


def item_end(tokens, start):
    """Behind the item, field or statement that begins at `start`, attributes included."""
    place, ends = start, {";", ","}
    while place < len(tokens):
        if tokens[place] in ITEMS | {"impl"}:
            # A comma between type parameters.
            ends = {";"}
        if tokens[place] == "#":
            place = group_end(tokens, place + 1)
        elif tokens[place] in CLOSING:
            opened, place = place, group_end(tokens, place)
            # The braces of a `use` tree are not the end of it.
            if tokens[opened] == "{" and "use" not in tokens[start:opened]:
                return place
        elif tokens[place] in ends:
            return place + 1
        elif tokens[place] in CLOSING.values():
            return place
        else:
            place += 1
    return place


def names_of_use(tokens):
    """Each `(path, name)` of a `use` tree; the name of a glob is `*`."""
    path, place = [], 0
    while place < len(tokens):
        token = tokens[place]
        if token == "{":
            inner = tokens[place + 1 : group_end(tokens, place) - 1]
            part, depth = [], 0
            for letter in [*inner, ","]:
                depth += (letter == "{") - (letter == "}")
                if letter == "," and depth == 0:
                    for below, name in names_of_use(part) if part else ():
                        yield path + below, name
                    part = []
                else:
                    part.append(letter)
            return
        if token == "as":
            yield path, tokens[place + 1]
            return
        if token != "::" and token != "self" or token == "self" and not path and tokens[place + 1 :]:
            path.append(token)
        place += 1
    # `self` alone, in braces, is what stands before them.
    yield path, path[-1] if path else "self"


class Module:
    """A module: what it declares, what it brings in, and the paths that its code names."""

    def __init__(self, crate, path, file, tokens, folder):
        self.crate, self.path, self.file = crate, path, file
        self.children, self.items, self.brought, self.paths, self.words = {}, set(), {}, [], set()
        self.read(tokens, folder)
        crate.modules[path] = self

    def read(self, tokens, folder):
        place, depth = 0, 0
        while place < len(tokens):
            token, after = tokens[place], tokens[place + 1 : place + 4]
            if token == "#" and after[:1] == ["["] and tokens[place + 2 : place + 6] == ["cfg", "(", "test", ")"]:
                place = item_end(tokens, place)
            elif token == "#" and after[:1] == ["["]:
                place = group_end(tokens, place + 1)
            elif token == "use":
                end = tokens.index(";", place)
                # `pub use` and `pub(crate) use` hand a name on; whether this file uses it, its words say.
                handed_on = place > 0 and tokens[place - 1] in ("pub", ")")
                for path, name in names_of_use(tokens[place + 1 : end]):
                    self.brought[name] = (path, handed_on)
                place = end + 1
            elif token == "mod" and depth == 0 and len(after) > 1 and after[1] in (";", "{"):
                place = self.child(after[0], tokens, place + 2, folder)
            else:
                if depth == 0 and token in ITEMS and after:
                    self.items.add(after[1] if token == "macro_rules" else after[0])
                depth += (token in CLOSING) - (token in CLOSING.values())
                place = self.word(tokens, place)

    def child(self, name, tokens, place, folder):
        if tokens[place] == "{":
            end = group_end(tokens, place)
            Module(self.crate, (*self.path, name), self.file, tokens[place + 1 : end - 1], folder / name)
        else:
            end = place + 1
            file = next(f for f in (folder / f"{name}.rs", folder / name / "mod.rs") if f.exists())
            Module(self.crate, (*self.path, name), file, tokens_of(file.read_text()), folder / name)
        self.children[name] = (*self.path, name)
        return end

    def word(self, tokens, place):
        """Takes the name or path at `place`; behind it."""
        path = [tokens[place]]
        place += 1
        if not re.match(r"\w", path[0]):
            return place
        while place + 1 < len(tokens) and tokens[place] == "::" and re.match(r"\w", tokens[place + 1]):
            path.append(tokens[place + 1])
            place += 2
        self.words.add(path[0])
        if len(path) > 1:
            self.paths.append(path)
        return place


class Crate:
    """A crate from its root file: its modules, and which file names what of which."""

    def __init__(self, name, root):
        self.name, self.root, self.modules = name, root, {}
        Module(self, (), root, tokens_of(root.read_text()), root.parent)

    def place_of(self, module, path, seen=()):
        """The file that holds what `path` names in `module`, and the name; nothing for a module or a stranger."""
        if (module.path, tuple(path)) in seen:
            return None
        seen = (*seen, (module.path, tuple(path)))
        first, rest = path[0], path[1:]
        if first in ("crate", "self", "super"):
            above = {"crate": (), "self": module.path, "super": module.path[:-1]}[first]
            return self.place_of_name(self.modules[above], rest, seen) if rest else None
        known = first in module.children or first in module.brought or first in module.items
        return self.place_of_name(module, path, seen) if known else None

    def place_of_name(self, module, path, seen):
        first, rest = path[0], path[1:]
        if first == "super":
            return self.place_of(module, path, seen)
        if first in module.children:
            return self.place_of_name(self.modules[module.children[first]], rest, seen) if rest else None
        if first in module.brought:
            brought, _ = module.brought[first]
            # Brought in by the very name that it has outside, such as `use serde;`.
            return self.place_of(module, brought + rest, seen)
        # Written here, or by a macro of here.
        return module.file, first

    def uses(self):
        """For each file, the files that it uses, each with the names of it."""
        found = {module.file: {} for module in self.modules.values()}
        for module in self.modules.values():
            named = [path for name, (path, on) in module.brought.items() if not on or name in module.words]
            for path in named + module.paths:
                where = self.place_of(module, path)
                if where and where[0] != module.file:
                    found[module.file].setdefault(where[0], set()).add(where[1])
        return found

    def room_of(self, file):
        below = file.relative_to(self.root.parent)
        return None if file == self.root else below.parts[0].removesuffix(".rs")

    def rooms(self, uses):
        """For each room, the rooms that it uses, each with the names of it. The root belongs to none."""
        found = {}
        for file, used in uses.items():
            if (room := self.room_of(file)) is None:
                continue
            of_room = found.setdefault(room, {})
            for other, names in used.items():
                if (other_room := self.room_of(other)) not in (None, room):
                    of_room.setdefault(other_room, set()).update(names)
        return found


def circles(uses):
    """The groups in which each can be reached from each other one."""
    reached = {}
    for start in uses:
        reached[start], todo = set(), [start]
        while todo:
            for used in uses.get(todo.pop(), ()):
                if used not in reached[start]:
                    reached[start].add(used)
                    todo.append(used)
    groups = {frozenset(o for o in reached[s] if s in reached.get(o, ())) for s in uses if s in reached[s]}
    return sorted(sorted(group) for group in groups)


def print_circles(found, uses, written):
    for group in found:
        print(f"  CIRCLE of {len(group)}:")
        for one in group:
            for other in sorted(uses[one].keys() & set(group)):
                print(f"    {written(one)} -> {written(other)} ({', '.join(sorted(uses[one][other]))})")


def main():
    asked = sys.argv[1:]
    said = subprocess.run(["cargo", "metadata", "--no-deps", "--format-version", "1"], capture_output=True, check=True)
    packages = json.loads(said.stdout)["packages"]
    names = {package["name"] for package in packages}
    failed = False

    arrows = {
        package["name"]: {d["name"]: {d["name"]} for d in package["dependencies"] if d["name"] in names}
        for package in packages
    }
    found = circles(arrows)
    print(f"{len(packages)} crates, " + ("no circle" if not found else f"{len(found)} circles"))
    print_circles(found, arrows, str)
    failed |= bool(found)

    for package in packages:
        if asked and package["name"] not in asked:
            continue
        for target in package["targets"]:
            root = Path(target["src_path"])
            if not {"lib", "bin"} & set(target["kind"]):
                continue
            crate = Crate(package["name"], root)
            uses = crate.uses()
            if len(uses) == 1:
                continue
            rooms = crate.rooms(uses)
            of_rooms, of_files = circles(rooms), circles(uses)
            said = f"{len(rooms)} rooms, {len(uses)} files, {sum(map(len, uses.values()))} arrows"
            held = f"{len(of_rooms)} circles of rooms, {len(of_files)} of files" if of_rooms or of_files else "no circle"
            print(f"{crate.name}: {said}, {held}")
            print_circles(of_rooms, rooms, str)
            print_circles(of_files, uses, lambda file: file.relative_to(root.parent))
            failed |= bool(of_rooms or of_files)
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
