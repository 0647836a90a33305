"""Mutated documents through reading: nothing may be raised but ``ArtworkError``, and all within time and memory.

    python tests/bench/fuzz_reading.py --count 20000

Seeded: the same number gives the same documents. Mutates the one-feature files of ``tests/svg_features`` and our
own artwork: bytes struck, doubled or swapped, numbers made absurd, attributes exchanged between files,
elements nested.
"""

from __future__ import annotations

import argparse
import random
import re
import resource
import sys
import tempfile
import time
import traceback
from pathlib import Path

PROJECT = Path(__file__).parents[2]
sys.path.insert(0, str(PROJECT))

from pipeline.errors import ArtworkError
from pipeline.read.reading import read_drawing
from pipeline.read.settings import ReadSettings

NUMBER = re.compile(rb"-?\d+\.?\d*")
VALUE = re.compile(rb"\"[^\"]*\"|'[^']*'")
ABSURD = (b"0", b"-1", b"1e999", b"1e-300", b"NaN", b"99999999", b"1e7", b"", b"%", b"5em", b"-0", b".", b"1 2 3")
SNIPPETS = (
    b"<use href='#a'/>", b"<g transform='rotate(1e9)'>", b"</g>", b"<style>*{fill:url(#a)}</style>", b"\xff\xfe",
    b"<svg viewBox='0 0 0 0'>", b"&#0;", b"<!--", b"]]>", b" id='a'", b" mask='url(#m)'", b" clip-path='url(#c)'",
    b" stroke-dasharray='0 1e-9'", b" font-size='1e6'", b" style='--a:var(--a);fill:var(--a)'", b"<text>a</text>",
)  # fmt: skip


def mutated(seeds: list[bytes], rng: random.Random) -> bytes:
    """One document: a seed with one to four mutations."""
    data = bytearray(rng.choice(seeds))
    for _ in range(rng.randint(1, 4)):
        kind = rng.choice((0, 1, 2, 3, 4, 4, 4, 4, 5, 5, 5, 5))
        at = rng.randrange(len(data) + 1)
        if kind == 0:
            del data[at : at + rng.randint(1, 12)]
        elif kind == 1:
            data[at:at] = data[at : at + rng.randint(1, 60)]
        elif kind == 2 and at < len(data):
            data[at] = rng.randrange(256)
        elif kind == 3:
            data[at:at] = rng.choice(SNIPPETS)
        else:
            pattern = NUMBER if kind == 4 else VALUE
            inside = data.find(b">") if rng.random() < 0.9 else 0
            places = list(pattern.finditer(bytes(data), max(inside, 0)))
            if places:
                place = rng.choice(places)
                other = list(VALUE.finditer(rng.choice(seeds)))
                new = rng.choice(ABSURD) if kind == 4 or not other else rng.choice(other).group()
                data[place.start() : place.end()] = new
    return bytes(data)


def seeds() -> list[bytes]:
    """The documents that are mutated."""
    folders = (PROJECT / "tests" / "svg_features", PROJECT / "artwork")
    return [path.read_bytes() for folder in folders for path in sorted(folder.rglob("*.svg"))]


def run(count: int, seed: int = 20261125) -> tuple[int, int, float, list[str]]:
    """How many were read and refused, the slowest in seconds of CPU, and what else was raised."""
    rng, known = random.Random(seed), seeds()
    read = refused = 0
    slowest = 0.0
    faults: list[str] = []
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "mutated.svg"
        for number in range(count):
            path.write_bytes(mutated(known, rng))
            began = time.process_time()
            try:
                read_drawing(path, ReadSettings(), lambda _: None)
                read += 1
            except ArtworkError:
                refused += 1
            except Exception:
                faults.append(f"document {number}: {traceback.format_exc(limit=-2)}")
            slowest = max(slowest, time.process_time() - began)
    return read, refused, slowest, faults


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=20_000)
    args = parser.parse_args()
    read, refused, slowest, faults = run(args.count)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{args.count} documents: {read} read, {refused} refused, {len(faults)} faults; "
          f"slowest {slowest:.2f} s CPU, peak memory {memory:.0f} MiB")  # fmt: skip
    for fault in faults[:10]:
        print(fault)


if __name__ == "__main__":
    main()
