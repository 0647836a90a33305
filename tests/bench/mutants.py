"""One-line faults planted in every room, each against the tests: what share do they kill?

    python tests/bench/mutants.py                       all of ``mutants.txt``
    python tests/bench/mutants.py --only tie --only steps
    python tests/bench/mutants.py --sample 30 --seed 1  a seeded part of them
    python tests/bench/mutants.py --room-only           each against its room's tests alone
    python tests/bench/mutants.py --together            the quiet ones of ``together.txt`` all at once
    python tests/bench/mutants.py --results FILE        goes on where an earlier run with this file ended

Every fault is planted in a scratch copy of the tree, never in place, and meets in turn its room's tests, the quick
part of the record, the tests of the flow and of the house, and the rest of the record, up to the first failure.
A fault that makes a test take too long is killed too. Prints the share killed and the survivors; asserts nothing.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import io
import json
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

PROJECT = Path(__file__).parents[2]
FAULTS = Path(__file__).with_name("mutants.txt")
TOGETHER = Path(__file__).with_name("together.txt")
PACKAGE = "pipeline/"
AROUND = {
    "colour": ["tests/measure", "tests/read/test_read_colour.py"],
    "check": ["tests/flow", "tests/house"],
    "recipes": ["tests/stitch", "tests/roles"],
    "flow": ["tests/flow"],
    "sequence": ["tests/steps"],
    "settings": ["tests/house"],
    "craft": ["tests/house/test_craft.py", "tests/house/test_craft_laws.py", "tests/stitch", "tests/tie"],
    "losses": ["tests/flow/test_losses.py"],
}
"""Tests of the modules that have no folder of their own."""
QUICK = ["tests/record/test_record.py", "-k", "ours and (five or small or line-art or tern or lifebuoy)"]
LATER = ["tests/flow", "tests/house"], ["tests/record/test_record.py"]
MOST_CPU_S = 150
SLOW_S = 0.15
"""Tests that take longer come last, slower ones after quicker."""
TOOK: dict[str, float] = {}
"""How long the slow tests took without any fault."""
LOADED = (
    *("numpy", "shapely", "pyclipper", "click", "lxml.etree", "cssselect2", "tinycss2.color4", "fontTools.ttLib"),
    *(
        "PIL.Image",
        "PIL.PngImagePlugin",
        "scipy.ndimage",
        "scipy.optimize",
        "scipy.sparse.csgraph",
        "scipy.spatial",
    ),
    *("networkx", "svgelements", "multiprocessing.connection", "tomllib"),
)
"""Loaded before forking, so that a fault costs its tests and not the imports."""


@dataclass(frozen=True)
class Fault:
    """One replacement in one file; ``equal`` says why it changes nothing that anyone could notice, if so."""

    file: str
    old: str
    new: str
    equal: str = ""

    @property
    def room(self) -> str:
        """The room, or the module beside the rooms, that it is in."""
        return self.file.split("/", maxsplit=1)[0].removesuffix(".py")

    @property
    def matches(self) -> bool:
        """Whether its text is still there, once."""
        return (PROJECT / PACKAGE / self.file).read_text().count(self.old) == 1

    def is_named(self, word: str) -> bool:
        """Whether this is the fault's room, or (unless it is a plain word) a part of its file and text."""
        return word == self.room or (not word.isalpha() and word in f"{self.file}: {self.old}")

    def planted(self, text: str) -> str:
        """The file's text with the fault."""
        return text.replace(self.old, self.new)

    def __str__(self) -> str:
        old, new = (text.splitlines()[-1].strip() for text in (self.old, self.new))
        return f"{self.file}: {old[:70]}  →  {new[:70]}"


def faults(path: Path) -> list[Fault]:
    """The faults of a list: a file, lines of ``-``, lines of ``+``, perhaps a line of ``=``."""
    found: list[Fault] = []
    name, block = "", dict[str, list[str]]()
    for line in [*path.read_text().splitlines(), "end"]:
        mark, text = line[:1], line[2:]
        if mark in ("-", "+", "="):
            block.setdefault(mark, []).append(text)
        elif line and mark != "#":
            if block:
                found.append(Fault(name, *("\n".join(block.get(key, [])) for key in "-+=")))
            name, block = line, {}
    return found


@contextlib.contextmanager
def scratch() -> Iterator[Path]:
    """A copy of the tree to plant faults in, with the artwork sets and without anything built."""
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        tree = Path(folder)
        for name in ("pipeline", "tests", "artwork", ".ci"):
            shutil.copytree(PROJECT / name, tree / name, ignore=shutil.ignore_patterns("__pycache__", ".corpora"))
        for name in ("pyproject.toml", "README.md", "DEVELOPERS.md", "CHANGELOG.md"):
            shutil.copy(PROJECT / name, tree / name)
        kept = PROJECT / "tests" / ".corpora"
        if kept.exists():
            (tree / "tests" / ".corpora").symlink_to(kept)
        yield tree


class Results:
    """What became of each fault, kept in a file of JSON lines: the tests that it passed, and what killed it.

    Tests that a fault passed are not run again and a killed one is not tried again: drop lines, or the file, when
    tests change.
    """

    def __init__(self, path: Path | None) -> None:
        self.path = path
        self.known: dict[str, tuple[list[str], str | None]] = {}
        for line in path.read_text().splitlines() if path and path.exists() else ():
            found = json.loads(line)
            self.known[found["fault"]] = (found["passed"], found["by"])

    def of(self, fault: Fault) -> tuple[list[str], str | None]:
        """The stages that it passed, and what killed it, if anything did."""
        return self.known.get(self._key(fault), ([], None))

    def add(self, fault: Fault, passed: list[str], by: str | None) -> None:
        """Remember it."""
        self.known[self._key(fault)] = (passed, by)
        if self.path:
            with self.path.open("a") as file:
                file.write(json.dumps({"fault": self._key(fault), "passed": passed, "by": by}) + "\n")

    @staticmethod
    def _key(fault: Fault) -> str:
        return f"{fault.file}: {fault.old} → {fault.new}"


class Listener:
    """Has the quick tests run first, and remembers the first that failed and which took long."""

    def __init__(self, took: dict[str, float]) -> None:
        self.took = took
        self.slow: dict[str, float] = {}
        self.failed = ""

    def pytest_sessionstart(self) -> None:
        """Called first: no smallest example is searched for."""
        hypothesis = importlib.import_module("hypothesis")
        phases = [hypothesis.Phase.explicit, hypothesis.Phase.generate]
        hypothesis.settings.register_profile("faults", phases=phases)
        hypothesis.settings.load_profile("faults")

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Called once they are found."""
        items.sort(key=lambda item: self.took.get(item.nodeid, 0.0))

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Called for every test."""
        if report.failed and not self.failed:
            self.failed = report.nodeid
        if report.duration > SLOW_S:
            self.slow[report.nodeid] = round(report.duration, 1)

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        """Called for every file; one that cannot be imported fails too."""
        if report.failed and not self.failed:
            self.failed = report.nodeid


def _tested(tree: Path, arguments: list[str], tell: int) -> int:
    """Run these tests, in the process that was forked for them; 0 if they pass."""
    os.setpgid(0, 0)
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_CPU_S, MOST_CPU_S + 5))
    os.chdir(tree)
    os.environ["PYTHONPATH"] = str(tree)
    sys.path.insert(0, str(tree))
    listener = Listener(TOOK)
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        status = pytest.main(["-x", "-q", "-p", "no:cacheprovider", *arguments], plugins=[listener])
    os.write(tell, json.dumps([listener.failed, listener.slow]).encode())
    return int(status not in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED))


def failing(tree: Path, arguments: list[str], took: dict[str, float] | None = None) -> str | None:
    """The first of these tests that fails in the scratch tree, or None, tried in a process of its own.

    How long the slow ones ``took`` is added to what is given for it.
    """
    if missing := [place for place in arguments if place.startswith("tests/") and not (tree / place).exists()]:
        raise SystemExit(f"tests came or went since the tree was copied: {missing}")
    told, tell = os.pipe()
    child = os.fork()
    if child == 0:
        status = 1
        try:
            status = _tested(tree, arguments, tell)
        finally:
            os._exit(status)
    os.close(tell)
    _, status = os.waitpid(child, 0)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    with os.fdopen(told, "rb") as pipe:
        name, slow = json.loads(pipe.read() or '["", {}]')
    if took is not None:
        took |= slow
    return None if status == 0 else name or "too long, or it died"


def room_tests(room: str, module: str = "") -> list[str]:
    """A room's test files, those that name the module first, examples before laws."""
    places = [PROJECT / path for path in AROUND.get(room, [f"tests/{room}"])]
    files = [file for place in places for file in (sorted(place.glob("test_*.py")) if place.is_dir() else [place])]
    name = module.removesuffix(".py").replace("/", ".")
    files.sort(key=lambda file: (not name or name not in file.read_text(), "_laws" in file.name))
    return [str(file.relative_to(PROJECT)) for file in files]


def _changed(path: Path, text: str) -> None:
    """Write a file so that no compiled form of it passes for new: each writing has a second of its own."""
    stamp = path.stat().st_mtime + 2.0
    path.write_text(text)
    os.utime(path, (stamp, stamp))


def killed_by(tree: Path, fault: Fault, room_only: bool, results: Results) -> str | None:
    """Which tests notice the fault, or None."""
    passed, by = results.of(fault)
    left = [stage for stage in stages([fault.room], room_only) if stage[0] not in passed]
    if by is not None or not left:
        return by
    path = tree / PACKAGE / fault.file
    whole = path.read_text()
    _changed(path, fault.planted(whole))
    try:
        for name, arguments in left:
            first = failing(tree, room_tests(fault.room, fault.file) if name == "room" else arguments)
            if first is not None:
                by = f"{name}: {first.removeprefix('tests/')}"
                break
            passed = [*passed, name]
    finally:
        _changed(path, whole)
    results.add(fault, passed, by)
    return by


def stages(rooms: list[str], room_only: bool) -> Iterator[tuple[str, list[str]]]:
    """What a fault has to pass, the cheapest first."""
    yield "room", [place for room in rooms for place in room_tests(room)]
    if not room_only:
        yield "quick record", QUICK
        yield "flow and house", LATER[0]
        yield "record", LATER[1]


def together(tree: Path) -> None:
    """Plant all of the quiet list at once."""
    chosen = [fault for fault in faults(TOGETHER) if fault.matches]
    for fault in chosen:
        path = tree / PACKAGE / fault.file
        _changed(path, fault.planted(path.read_text()))
    print(f"{len(chosen)} of {len(faults(TOGETHER))} faults planted at once")
    rooms = sorted({fault.room for fault in chosen})
    for name, arguments in (*((room, room_tests(room)) for room in rooms), *list(stages([], False))[1:]):
        began = time.monotonic()
        first = failing(tree, arguments)
        verdict = "pass" if first is None else f"KILLED by {first}"
        print(f"    {name:10} {verdict}  ({time.monotonic() - began:.0f} s)", flush=True)


def main() -> None:
    """Plant, test and count."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument(
        "--only", action="append", default=[], metavar="ROOM", help="a room, or a part of a fault's file and text"
    )
    parser.add_argument("--sample", type=int, metavar="N")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--room-only", action="store_true")
    parser.add_argument("--together", action="store_true")
    parser.add_argument("--results", type=Path, metavar="FILE")
    args = parser.parse_args()
    for module in LOADED:
        importlib.import_module(module)
    with scratch() as tree:
        if args.together:
            together(tree)
            return
        every = [fault for fault in faults(FAULTS) if not args.only or any(map(fault.is_named, args.only))]
        gone = [fault for fault in every if not fault.matches]
        chosen = [fault for fault in every if fault.matches and not fault.equal]
        if args.sample is not None:
            chosen = random.Random(args.seed).sample(chosen, min(args.sample, len(chosen)))
        report(tree, chosen, every, gone, args.room_only, Results(args.results))


def report(
    tree: Path, chosen: list[Fault], every: list[Fault], gone: list[Fault], room_only: bool, results: Results
) -> None:
    """Try each and tell."""
    killed: Counter[str] = Counter()
    tried: Counter[str] = Counter()
    how: Counter[str] = Counter()
    left = []
    new = [fault for fault in chosen if results.of(fault) == ([], None)]
    for name, arguments in stages(sorted({fault.room for fault in new}), room_only) if new else ():
        if first := failing(tree, arguments, TOOK):
            raise SystemExit(f"without any fault {name} fails already: {first}")
    for fault in chosen:
        began = time.monotonic()
        by = killed_by(tree, fault, room_only, results)
        print(f"{time.monotonic() - began:4.0f} s  {fault}\n         {by or 'SURVIVED'}", flush=True)
        tried[fault.room] += 1
        killed[fault.room] += by is not None
        how[by.split(":")[0] if by else "none"] += 1
        left += [fault] if by is None else []
    print("\nroom        killed")
    for room in tried:
        print(f"{room:10} {killed[room]:3} of {tried[room]:3}")
    whole = max(1, len(chosen))
    print(f"{killed.total()} of {len(chosen)} killed ({killed.total() / whole:.1%}); by: {dict(how)}")
    print(f"equivalent and not tried: {sum(bool(fault.equal) for fault in every)}; no longer matching: {len(gone)}")
    for fault in gone:
        print(f"    gone: {fault}")
    print("survivors:")
    for fault in left:
        print(f"    {fault}")


if __name__ == "__main__":
    main()
