#!/usr/bin/env python3
"""The crates that are compiled into toeline, from Cargo.lock.

third-party.py              writes the table of crates into THIRD-PARTY.md
third-party.py --check      says whether the table there is the one that would be written
third-party.py --texts FILE writes the crates' own licence texts and notices, as a package has to bring them
"""

import json
import pathlib
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
NOTICES = ROOT / "THIRD-PARTY.md"
BEGIN, END = "<!-- crates: scripts/third-party.py -->", "<!-- end of crates -->"
PLATFORM = "x86_64-unknown-linux-gnu"
# How crates name the files that have to go with them.
NAMES = ("licen", "copying", "notice", "unlicense", "copyright")


def crates():
    """The crates of the program with the usual features, without those that only build or test it."""
    command = ["cargo", "metadata", "--format-version", "1", "--locked", "--filter-platform", PLATFORM]
    answer = subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.PIPE).stdout
    metadata = json.loads(answer)
    packages = {package["id"]: package for package in metadata["packages"]}
    nodes = {node["id"]: node for node in metadata["resolve"]["nodes"]}
    root = metadata["resolve"]["root"]
    return reached(nodes, packages, root)


def reached(nodes, packages, root):
    """What can be reached from `root` by dependencies that are compiled in, in the order of names."""
    found, todo = set(), [root]
    while todo:
        for dependency in nodes[todo.pop()]["deps"]:
            is_compiled_in = any(kind["kind"] is None for kind in dependency["dep_kinds"])
            if is_compiled_in and dependency["pkg"] not in found:
                found.add(dependency["pkg"])
                todo.append(dependency["pkg"])
    return sorted((packages[name] for name in found), key=lambda crate: (crate["name"], crate["version"]))


def licence(crate):
    """A crate's licence as an SPDX expression; the slash is an old way to write OR."""
    return (crate["license"] or f"see {crate['license_file']}").replace(" / ", "/").replace("/", " OR ")


def table(found):
    """The table of the crates."""
    lines = ["| crate | version | licence | source |", "| --- | --- | --- | --- |"]
    for crate in found:
        source = crate["repository"] or f"https://crates.io/crates/{crate['name']}"
        lines.append(f"| {crate['name']} | {crate['version']} | {licence(crate)} | {source} |")
    return "\n".join(lines)


def with_table(text, rows):
    """The notices with the table between its two marks."""
    before, rest = text.split(BEGIN)
    after = rest.split(END)[1]
    return f"{before}{BEGIN}\n\n{rows}\n\n{END}{after}"


def texts(found):
    """All licence texts and notices, each once, with the crates to which it belongs."""
    owners, bare = {}, []
    for crate in found:
        folder = pathlib.Path(crate["manifest_path"]).parent
        files = sorted(path for path in folder.iterdir() if path.is_file() and path.name.lower().startswith(NAMES))
        label = f"{crate['name']} {crate['version']} ({licence(crate)})"
        for path in files:
            owners.setdefault(path.read_text(errors="replace").strip(), []).append(label)
        if not files:
            authors = ", ".join(crate["authors"]) or "its authors"
            bare.append(f"{label}, by {authors}: {crate['repository'] or ''}".rstrip(": "))
    parts = ["Licences and notices of the crates that are compiled into toeline\n"]
    for text, labels in owners.items():
        parts.append("-" * 80 + "\n" + "\n".join(dict.fromkeys(labels)) + "\n\n" + text + "\n")
    if bare:
        parts.append("-" * 80 + "\nThese crates bring no text of their own:\n\n" + "\n".join(bare) + "\n")
    return "\n".join(parts)


def main(arguments):
    found = crates()
    if arguments[:1] == ["--texts"] and len(arguments) == 2:
        pathlib.Path(arguments[1]).write_text(texts(found))
        return 0
    old = NOTICES.read_text()
    new = with_table(old, table(found))
    if arguments == ["--check"]:
        if new != old:
            print("third-party: THIRD-PARTY.md does not list the crates of Cargo.lock; run scripts/third-party.py")
        return int(new != old)
    if arguments:
        print(__doc__, file=sys.stderr)
        return 2
    NOTICES.write_text(new)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
