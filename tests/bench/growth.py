"""How CPU and memory grow with a drawing, on drawings made here at three sizes each.

    python tests/bench/growth.py            all of them
    python tests/bench/growth.py stars jagged

Every drawing is converted in a process of its own. Prints CPU seconds by room, peak memory, and the exponent of
growth (the slope of log seconds over log size, of the last two sizes and fitted to all three, imports not counted):
1 is linear. The cut-out twin, which older commits sew for every file, is shown and not counted.
"""

from __future__ import annotations

import argparse
import math
import random
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from worker import Worker

PROJECT = Path(__file__).parents[2]
COLOURS = ("#c0392b", "#1f5a8a", "#e0b040", "#3b7a4b", "#5b4a8a")
STROKES = (
    "M0 0V5M0 2.5H3M3 0V5",
    "M0 5L1.7 0L3.4 5M0.7 3.2H2.7",
    "M3 0.6A2.4 2.4 0 1 0 3 4.4",
    "M0 0V5H3",
    "M0 0H3.4M1.7 0V5",
)


def _svg(width: float, height: float, body: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}">{body}</svg>'
    )


def stars(count: int) -> str:
    """Five-pointed stars of 3 mm, in rows, of five colours."""
    across = math.ceil(math.sqrt(count))
    angles = np.arange(10) * np.pi / 5 - np.pi / 2
    star = np.column_stack([np.cos(angles), np.sin(angles)]) * np.where(np.arange(10) % 2, 0.7, 1.5)[:, None]
    found = []
    for number in range(count):
        down, right = divmod(number, across)
        corner = np.array([4.0 * right + 2.5, 4.0 * down + 2.5])
        points = " ".join(f"{x:.3f},{y:.3f}" for x, y in star + corner)
        found.append(f'<polygon points="{points}" fill="{COLOURS[number % 5]}"/>')
    return _svg(4.0 * across + 1, 4.0 * across + 1, "".join(found))


def letters(count: int) -> str:
    """Letters of 5 mm in bold strokes, in rows, of two colours."""
    across = math.ceil(math.sqrt(count))
    found = []
    for number in range(count):
        down, right = divmod(number, across)
        found.append(
            f'<path transform="translate({5 * right + 1},{7 * down + 1})" d="{STROKES[number % 5]}" fill="none" '
            f'stroke="{COLOURS[down % 2]}" stroke-width="1.1"/>'
        )
    return _svg(5.0 * across + 1, 7.0 * across + 1, "".join(found))


def jagged(count: int) -> str:
    """A disc of 80 mm whose outline of so many vertices goes in and out by chance."""
    chance = random.Random(7)
    angles = np.arange(count) * 2 * np.pi / count
    radii = np.array([chance.uniform(34.0, 40.0) for _ in range(count)])
    spots = np.column_stack([np.cos(angles), np.sin(angles)]) * radii[:, None] + 41.0
    points = " ".join(f"{x:.3f},{y:.3f}" for x, y in spots)
    return _svg(82, 82, f'<polygon points="{points}" fill="{COLOURS[1]}"/>')


def nested(count: int) -> str:
    """Discs upon discs within 90 mm, each smaller by the same step, of five colours in turn."""
    body = "".join(
        f'<circle cx="46" cy="46" r="{45.0 * (1.0 - k / count):.4f}" fill="{COLOURS[k % 5]}"/>'
        for k in range(count)
    )
    return _svg(92, 92, body)


def mascot(width: int) -> str:
    """Our own mascot, so many mm wide."""
    del width
    return (PROJECT / "artwork" / "puffin-mascot.svg").read_text(encoding="utf-8")


DRAWINGS: dict[str, tuple[Callable[[int], str], tuple[int, int, int]]] = {
    "stars": (stars, (250, 500, 1000)),
    "letters": (letters, (250, 500, 1000)),
    "jagged": (jagged, (750, 1500, 3000)),
    "nested": (nested, (25, 50, 100)),
    "mascot": (mascot, (80, 160, 320)),
}


def measured(name: str, size: int, python: str) -> float:
    """One drawing's seconds without the twin's; prints its line."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{name}.svg"
        path.write_text(DRAWINGS[name][0](size), encoding="utf-8")
        worker = Worker(python)
        row = worker.convert(path, float(size) if name == "mascot" else None)
        worker.close()
    rooms = row["rooms"]
    twin = rooms.pop("twin", 0.0)
    spent = sum(rooms.values())
    shares = "  ".join(f"{room} {seconds:.2f}" for room, seconds in rooms.items())
    print(f"{name:8s}{size:6d}  {spent:6.2f} s {row['mib']:5.0f} MiB {row['stitches']:7d} stitches  {shares}"
          + (f"  (twin {twin:.2f})" if twin else "") + (f"  {row['error']}" if row["error"] else ""),
          flush=True)  # fmt: skip
    return float(spent)


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", choices=[*DRAWINGS, []], default=[])
    parser.add_argument("--python", default=sys.executable, help="another commit's python")
    args = parser.parse_args()
    for name in args.names or DRAWINGS:
        sizes = DRAWINGS[name][1]
        spent = [measured(name, size, args.python) for size in sizes]
        slope = np.polyfit(np.log(sizes), np.log(spent), 1)[0]
        last = math.log(spent[2] / spent[1]) / math.log(sizes[2] / sizes[1])
        print(f"{name}: exponent {last:.2f} of the last two sizes, {slope:.2f} of all three", flush=True)


if __name__ == "__main__":
    main()
