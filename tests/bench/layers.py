"""Round trip of the layer model on real layered art: cut puzzle-fashion, restore, compare.

    python tests/bench/layers.py twemoji --count 300

Every file is read, cut so that each region loses all that lies above it, and given back to the regions room as if
it had been delivered so, in the same order and in a shuffled one. For regions whose hidden part lay wholly inside
their outline the restored area is compared with the area that was hidden (intersection over union); the picture
that the regions show is compared exactly, colour by colour.
"""

from __future__ import annotations

import argparse
import multiprocessing
import random
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).parents[1]))

from corpora import corpus

from pipeline.geometry.polygon import multipolygon
from pipeline.model import Drawing, Finding, Region, Shape
from pipeline.read.reading import read_drawing
from pipeline.regions.stack import stack
from pipeline.settings import Settings

SETTINGS = Settings()
WHOLE = replace(SETTINGS.regions, join_overlap_mm=0.0, restore=False)
RESTORE = replace(SETTINGS.regions, join_overlap_mm=0.0)
LEAST_MM2 = 1.0


def cut(layers: tuple[Region, ...], drawing: Drawing, seed: int | None) -> Drawing:
    """The drawing as a puzzle-fashion delivery; shuffled by ``seed`` if given."""
    shapes = [Shape(region.id, None, region.colour, region.visible) for region in layers]
    if seed is not None:
        random.Random(seed).shuffle(shapes)
    return replace(drawing, shapes=tuple(shapes))


def shown(layers: tuple[Region, ...]) -> dict[str, shapely.Geometry]:
    """The area that each colour shows."""
    colours = sorted({region.colour for region in layers})
    above = shapely.MultiPolygon()
    seen: dict[str, list[shapely.Geometry]] = {colour: [] for colour in colours}
    for region in reversed(layers):
        seen[region.colour].append(region.outline.difference(above))
        above = multipolygon(above.union(region.outline))
    return {colour: shapely.union_all(areas) for colour, areas in seen.items()}


def changed(one: dict[str, shapely.Geometry], other: dict[str, shapely.Geometry]) -> float:
    """Share of the picture whose colour differs."""
    nothing = shapely.MultiPolygon()
    differ = sum(one.get(c, nothing).symmetric_difference(other.get(c, nothing)).area for c in {*one, *other})
    return float(differ / 2 / max(sum(area.area for area in one.values()), 1e-9))


def inside(region: Region) -> shapely.Geometry | None:
    """The hidden part of a region, if it lies wholly inside its outline and is worth comparing."""
    hidden = multipolygon(region.outline.difference(region.visible), 1e-3)
    if hidden.area < LEAST_MM2 or hidden.distance(shapely.union_all(shapely.boundary(region.outline))) < 0.01:
        return None
    return hidden


def overlap(
    region: Region, hidden: shapely.Geometry, layers: tuple[Region, ...], restored: tuple[Region, ...]
) -> float:
    """Intersection over union of what was hidden and what was given back.

    What shows in the colour, or what other regions of it held there, is neither: merging makes one of them.
    """
    alike = [other for other in restored if other.colour == region.colour]
    if not alike:
        return 0.0
    match = max(alike, key=lambda other: other.outline.intersection(region.visible).area)
    seen = shapely.union_all([other.visible for other in layers if other.colour == region.colour])
    back = match.outline.difference(seen).intersection(multipolygon(region.outline.buffer(0.5)))
    hidden = hidden.difference(seen)
    alike = [other.outline for other in layers if other.colour == region.colour and other is not region]
    back = back.difference(shapely.union_all(alike).difference(hidden))
    return float(back.intersection(hidden).area / max(back.union(hidden).area, 1e-9))


def one(job: tuple[str, float, int | None]) -> dict[str, object]:
    """One file's figures."""
    path, width, seed = Path(job[0]), job[1], job[2]
    notes: list[Finding] = []
    try:
        drawing = read_drawing(path, SETTINGS.read, notes.append, width)
        layers = stack(drawing, WHOLE, notes.append)
        puzzle = cut(layers, drawing, seed)
        began = time.process_time()
        restored = stack(puzzle, RESTORE, notes.append)
        cpu = time.process_time() - began
    except Exception as error:
        return {"name": path.name, "error": repr(error)[:200]}
    scores = [overlap(r, hidden, layers, restored) for r in layers if (hidden := inside(r)) is not None]
    return {
        "name": path.name,
        "scores": scores,
        "changed": changed(shown(layers), shown(restored)),
        "cpu": cpu,
        "regions": len(layers),
    }


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("set", choices=["twemoji", "flags", "openclipart"])
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--width", type=float, default=80.0)
    args = parser.parse_args()
    files = corpus(args.set)
    chosen = random.Random(20261125).sample(files, min(args.count, len(files)))
    with multiprocessing.get_context("spawn").Pool(2) as pool:
        for label, seed in (("same order", None), ("shuffled", 7)):
            rows = pool.map(one, [(str(path), args.width, seed) for path in chosen], chunksize=4)
            report(label, rows)


def report(label: str, rows: list[dict[str, object]]) -> None:
    """The figures for people."""
    good = [row for row in rows if "error" not in row]
    scores = np.array([score for row in good for score in row["scores"]])  # type: ignore[attr-defined]
    change = np.array([row["changed"] for row in good])
    cpu = np.array([row["cpu"] for row in good])
    print(f"{label}: {len(good)} of {len(rows)} files, {len(scores)} regions with a hidden inside")
    print(f"  IoU median {np.median(scores):.4f}  5th percentile {np.percentile(scores, 5):.4f}"
          f"  under 0.9: {int((scores < 0.9).sum())}")  # fmt: skip
    print(f"  picture changed: files over 0.1 % {int((change > 1e-3).sum())}, worst {change.max():.2%}")
    print(f"  CPU of the regions room: median {np.median(cpu):.3f} s, worst {cpu.max():.2f} s")
    low = sorted((min(row["scores"]), row["name"]) for row in good if row["scores"])[:10]  # type: ignore[type-var]
    print("  lowest: " + ", ".join(f"{name} {score:.2f}" for score, name in low))
    most = sorted(((row["changed"], row["name"]) for row in good), reverse=True)[:5]
    print("  most changed: " + ", ".join(f"{name} {share:.2%}" for share, name in most))
    for row in rows:
        if "error" in row:
            print("  failed", row["name"], row["error"])


if __name__ == "__main__":
    main()
