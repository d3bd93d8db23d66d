#!/usr/bin/env python3
"""No circle between the rooms of a crate.

A room is a folder or file directly under `src/`; it uses another one where its code names `crate::other`, or
`crate::Item` of what `lib.rs` hands out of it. What tests use is not asked: code under `#[cfg(test)]`, and its files.
"""

import re
import sys
from pathlib import Path

CRATES = ["firmware-protocol", "ingest", "analysis", "analysis/stats", "analysis/spectra", "analysis/signals", "analysis/statics", "analysis/page", "sample-runs"]
# A file of tests hangs on a line `#[cfg(test)] mod name;` in the file above it.
TEST_MODULE = re.compile(r"#\[cfg\(test\)\]\s*(?:#\[[^\]]*\]\s*)*(?:pub(?:\([^)]*\))? )?mod (\w+)\s*(;|\{)")


def without_tests(text, tests):
    """The text before its inner tests; names of test files are added to `tests`."""
    for found in TEST_MODULE.finditer(text):
        if found[2] == "{":
            return text[: found.start()]
        tests.add(found[1])
    return text


def names_used(text):
    """What stands behind `crate::`, one name or several in braces (of a path, its first part)."""
    for one, several in re.findall(r"\bcrate::(?:(\w+)|\{([^;]*)\};)", text):
        if one:
            yield one
        depth, name = 0, ""
        for letter in several + ",":
            depth += (letter == "{") - (letter == "}")
            if letter == "," and depth == 0:
                yield re.split(r"\W", name.strip())[0]
                name = ""
            else:
                name += letter


def uses(crate):
    """Which rooms each room uses."""
    source = Path(crate) / "src"
    texts = {}
    test_files = set()
    for path in sorted(source.rglob("*.rs")):
        tests = set()
        texts[path] = without_tests(re.sub(r"//.*", "", path.read_text()), tests)
        folder = path.parent if path.stem in ("mod", "lib", "main") else path.with_suffix("")
        test_files |= {folder / name for name in tests}
    root = (source / "lib.rs").read_text() if (source / "lib.rs").exists() else ""
    handed_out = {
        name: room
        for room, names in re.findall(r"pub use (\w+)::(\w+|\{[^}]*\});", root)
        for name in re.findall(r"\w+", names)
    }
    rooms = {}
    for path, text in texts.items():
        parents = [path.with_suffix(""), *path.parents]
        if any(parent in test_files for parent in parents):
            continue
        room = path.relative_to(source).parts[0].removesuffix(".rs")
        if room in ("lib", "main", "bin"):
            continue
        rooms.setdefault(room, set()).update(handed_out.get(name, name) for name in names_used(text))
        rooms[room].discard(room)
    return {room: {used for used in names if used in rooms} for room, names in rooms.items()}


def circle(rooms):
    """A way from a room back to itself, or nothing."""
    done = set()

    def walk(room, way):
        if room in way:
            return way[way.index(room) :] + [room]
        if room in done:
            return None
        for used in sorted(rooms[room]):
            found = walk(used, way + [room])
            if found:
                return found
        done.add(room)
        return None

    return next((found for room in sorted(rooms) if (found := walk(room, []))), None)


def main():
    failed = False
    for crate in CRATES:
        rooms = uses(crate)
        if len(rooms) < 2:
            sys.exit(f"{crate}: {len(rooms)} rooms found; is this the top of the repository?")
        found = circle(rooms)
        print(f"{crate}: {len(rooms)} rooms, " + (f"CIRCLE {' -> '.join(found)}" if found else "no circle"))
        failed |= found is not None
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
