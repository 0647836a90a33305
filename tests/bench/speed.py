"""CPU a file over mixed third-party sets, room by room, and against another commit.

    python tests/bench/speed.py --against /PATH/TO/OTHER/.venv/bin/python

Sixty files (twenty of each set, seeded) at 80 mm, converted by one warm worker, and by a second one under the other
python, file by file in turn so that both see the same machine. Prints the median and the sum of CPU seconds, the
share of each room, the ratio of the sums, and the files whose plan or machine file differs. The cut-out twin, which
older commits sew for every file, is a room of its own.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

from corpora import corpus
from worker import Worker

SETS = ("twemoji", "flags", "openclipart")
Row = dict[str, Any]


def chosen(count: int, seed: int) -> list[Path]:
    """The same number of files from each set, the sets taking turns."""
    some = [random.Random(seed).sample(corpus(name), count // len(SETS)) for name in SETS]
    return [path for each in zip(*some, strict=True) for path in each]


def report(label: str, rows: list[Row]) -> None:
    """The figures for people."""
    totals = [sum(row["rooms"].values()) for row in rows]
    lean = [total - row["rooms"].get("twin", 0.0) for total, row in zip(totals, rows, strict=True)]
    print(f"{label}: median {statistics.median(totals):.3f} s, sum {sum(totals):.1f} s"
          f" (without the twin {statistics.median(lean):.3f} and {sum(lean):.1f}), worst {max(totals):.1f} s,"
          f" peak {max(row['mib'] for row in rows):.0f} MiB")  # fmt: skip
    rooms = {room: sum(row["rooms"].get(room, 0.0) for row in rows) for row in rows for room in row["rooms"]}
    print("   " + "  ".join(f"{room} {spent:.1f} ({spent / sum(totals):.0%})" for room, spent in rooms.items()))


def compare(ours: list[Row], theirs: list[Row], files: list[Path]) -> None:
    """Ratios of the sums, and what came out otherwise."""
    total = [sum(sum(row["rooms"].values()) for row in rows) for rows in (ours, theirs)]
    twin = [sum(row["rooms"].get("twin", 0.0) for row in rows) for rows in (ours, theirs)]
    print(f"ratio of the sums: {total[0] / total[1]:.3f}; ours without the twin to theirs as it is"
          f" {(total[0] - twin[0]) / total[1]:.3f}; both without it"
          f" {(total[0] - twin[0]) / (total[1] - twin[1]):.3f}")  # fmt: skip
    other = [f.name for f, a, b in zip(files, ours, theirs, strict=True) if a["digest"] != b["digest"]]
    print(f"other bytes of plan or machine file: {len(other)} of {len(files)} {' '.join(other[:10])}")


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--against", help="a python whose `pipeline` is another commit")
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=20261128)
    parser.add_argument("--width", type=float, default=80.0)
    args = parser.parse_args()
    files = chosen(args.count, args.seed)
    pythons = [sys.executable, *([args.against] if args.against else [])]
    workers = [Worker(python) for python in pythons]
    answers: list[list[Row]] = [[] for _ in workers]
    for path in [files[0], *files]:
        for worker, rows in zip(workers, answers, strict=True):
            rows.append(worker.convert(path, args.width))
    for worker, rows, label in zip(workers, answers, ("ours", "theirs"), strict=False):
        worker.close()
        del rows[0]  # the first one warms the worker
        report(label, rows)
        for path, row in zip(files, rows, strict=True):
            if row["error"]:
                print(f"   failed {path.name}: {row['error']}")
    if args.against:
        compare(*answers, files)


if __name__ == "__main__":
    main()
