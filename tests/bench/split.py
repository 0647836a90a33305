"""Figures of the splitting room against the bars; run with ``python tests/bench/split.py [FOLDER [COUNT]]``.

Exact shapes: cross-sections against the truth. A folder of SVG files (sampled with a fixed seed, 80 mm wide):
CPU a region, kinds, columns that fell back, area lost. Exact truth: straight, radial and linear by construction.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np
import shapely
from shapely.affinity import scale
from shapely.geometry import LineString, Point, Polygon, box

from pipeline.errors import ArtworkError
from pipeline.geometry.polygon import multipolygon
from pipeline.model import Column, Finding, Part, Region, Surface
from pipeline.read.reading import read_drawing
from pipeline.regions.stack import stack
from pipeline.roles.assign import assign
from pipeline.settings import Settings
from pipeline.split.parts import split
from pipeline.split.settings import SplitSettings


def main() -> None:
    """Print everything."""
    exact()
    if len(sys.argv) > 1:
        corpus(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 50)


def exact() -> None:
    """Cross-sections of shapes whose axis is known."""
    disc = Point(0, 0).buffer(1, quad_segs=64)
    turn = np.linspace(0, 5 * np.pi, 400)
    coil = np.column_stack([(2 + 0.66 * turn) * np.cos(turn), (2 + 0.66 * turn) * np.sin(turn)])
    x = np.linspace(0, 40, 300)
    wave = np.column_stack([x, 4 * np.sin(x / 5)])
    shapes = {
        "rectangle 30 × 3": box(0, 0, 30, 3),
        "annulus 6…8": scale(disc, 8, 8).difference(scale(disc, 6, 6)),
        "wedge 0.5→6": Polygon([(0, -0.25), (50, -3), (50, 3), (0, 0.25)]),
        "ellipse 20 × 5": scale(disc, 10, 2.5),
        "spiral of 2.5": LineString(coil).buffer(1.25, cap_style="flat", quad_segs=32),
        "wave of 2.5": LineString(wave).buffer(1.25, cap_style="flat", quad_segs=32),
    }
    print(f"{'shape':18} {'kind':10} {'width mm':>16} {'off square p95':>14} {'max °':>6} {'cover':>7} {'ms':>5}")
    for name, shape in shapes.items():
        began = time.process_time()
        parts = split((surface(shape),), SplitSettings(), lambda finding: None)
        spent = 1000 * (time.process_time() - began)
        for part in parts:
            print(f"{name:18} {part.kind:10} {figures(part)} {spent:5.0f}")


def surface(shape: Polygon) -> Surface:
    outline = multipolygon(shape)
    region = Region("r1", "bench", None, 0, "#000000", outline, outline)
    return Surface(region, "base", (), outline, outline, 0.2, 0.0, "bench")


def figures(part: Part) -> str:
    """Widths, angles off square (against the middle line), and the share of the face that is covered."""
    if part.column is None:
        return f"{part.width_mm[0]:7.3f} {part.width_mm[2]:7.3f}"
    column = part.column
    widths = np.hypot(*(column.left - column.right).T)
    angles = off_square(column)
    left, right = column.left, column.right
    if column.closed:
        left, right = np.vstack([left, left[:1]]), np.vstack([right, right[:1]])
    quads = shapely.polygons(np.stack([left[:-1], left[1:], right[1:], right[:-1]], axis=1))
    cover = shapely.union_all(shapely.make_valid(quads)).intersection(part.area).area / part.area.area
    off = f"{np.percentile(angles, 95):14.3f} {angles.max():6.2f}"
    return f"{widths.min():8.3f} {widths.max():7.3f} {off} {cover:7.4f}"


def off_square(column: Column) -> np.ndarray:  # type: ignore[type-arg]
    left, right = column.left, column.right
    if column.closed:
        left, right = (np.vstack([side[-2:], side, side[:2]]) for side in (left, right))
    middle = 0.5 * (left + right)
    way = np.concatenate([[0.0], np.cumsum(np.maximum(np.hypot(*np.diff(middle, axis=0).T), 1e-9))])
    ahead = np.gradient(middle, way, axis=0)
    ahead = ahead[2:-2] if column.closed else ahead
    across = column.left - column.right
    size = np.maximum(np.hypot(*ahead.T) * np.hypot(*across.T), 1e-12)
    return np.degrees(np.arcsin(np.clip(np.abs((ahead * across).sum(axis=1)) / size, 0.0, 1.0)))


def corpus(folder: Path, count: int) -> None:
    """Cost and outcome on real artwork."""
    settings = Settings()
    files = sorted(folder.rglob("*.svg"))
    files = random.Random(20).sample(files, min(count, len(files)))
    found: Counter[str] = Counter()
    spent, slowest, lost, total = [], (0.0, ""), 0.0, 0.0
    for path in files:
        notes: list[Finding] = []
        try:
            drawing = read_drawing(path, settings.read, notes.append, 80.0)
            layers = stack(drawing, settings.regions, notes.append)
        except ArtworkError as error:
            print(f"{path.name}: {error}")
            continue
        for place in assign(layers, settings.roles, settings.craft, notes.append):
            began = time.process_time()
            parts = split((place,), settings.split, notes.append)
            spent.append(time.process_time() - began)
            slowest = max(slowest, (spent[-1], f"{path.name} {place.region.id}"))
            found.update(part.kind for part in parts)
            fell_back = [part for part in parts if "too uneven" in part.why]
            found["fell back"] += len(fell_back)
            union = shapely.union_all([part.area for part in parts])
            lost += place.region.outline.difference(union).area
            total += place.region.outline.area
    cost = 1000 * np.array(spent)
    print(f"{len(files)} files, {len(cost)} regions: {dict(found)}")
    print(f"CPU a region: mean {cost.mean():.1f} ms, p95 {np.percentile(cost, 95):.0f} ms, worst {slowest}")
    print(f"area in no part: {lost:.2f} of {total:.0f} mm² ({lost / total:.6f})")


if __name__ == "__main__":
    main()
