"""Measures tatami fills over a fixed set of shapes and prints one line each: ``python tests/bench/tatami.py``.

``tatami_judge`` says what is measured and how. ``along``: what rows advance in their direction × distance ÷ area,
all other thread apart (the law of conservation); ``thread``: all but travel. ``field`` and ``edge``: most needle
points in any mm²; ``thick``: mm² over 1.8 layers, spots over 1 mm² only; ``ends``: error of start and end, with
the first and last stitch. ``--quick`` leaves out the 250 mm shapes and most random ones; ``--artwork DIR`` adds
the tatami parts of 100 drawings.
"""

from __future__ import annotations

import argparse
import sys
import time
import tracemalloc
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any
from unittest.mock import patch

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon, box
from shapely.ops import unary_union

sys.path.insert(0, str(Path(__file__).parents[1]))

from judge import fill_estimate
from tatami_judge import FLAT, ROW, SETTINGS, STITCH, Figures, edge_of, measure, rounded

from pipeline.geometry.scanline import turned
from pipeline.model import Finding
from pipeline.read.reading import read_drawing
from pipeline.regions.stack import stack
from pipeline.roles.assign import assign
from pipeline.settings import Settings
from pipeline.split.parts import split
from pipeline.steps.arrange import arrange
from pipeline.stitch.tatami import fill
from pipeline.stitch.turns import Turns, turns


def arm_star() -> Polygon:
    turn = np.pi * np.arange(10) / 5 - np.pi / 2
    reach = np.where(np.arange(10) % 2, 10.0, 25.0)
    return Polygon(np.column_stack([25 + reach * np.cos(turn), 25 + reach * np.sin(turn)]))


def comb() -> Polygon:
    return unary_union([box(0, 0, 78, 8), *[box(4 * i, 7, 4 * i + 1.5, 25) for i in range(20)]])


def spiral(width: float = 3.0) -> Polygon:
    t = np.linspace(1.5 * np.pi, 8 * np.pi, 600)
    return LineString(np.column_stack([t * np.cos(t), t * np.sin(t)]) * 0.95).buffer(width / 2, cap_style="flat")


def letter() -> Polygon:
    """An upper-case serif R, 40 mm high."""
    stem, foot, head = box(6, 0, 13, 40), box(2, 37, 17, 40), box(2, 0, 17, 3)
    bowl = Point(15, 11).buffer(11).difference(Point(15, 11).buffer(5.5)).intersection(box(12, 0, 40, 40))
    leg = Polygon([(14, 21), (20, 19), (33, 38), (36, 38), (36, 40), (26, 40)])
    return unary_union([stem, foot, head, bowl, leg])


def pebble(
    random: np.random.Generator, centre: tuple[float, float], radius: float, n: int, rough: float
) -> Polygon:
    turn = np.linspace(0, 2 * np.pi, n, endpoint=False)
    reach = radius * (1 + rough * random.uniform(-1, 1, n))
    return Polygon(np.column_stack([centre[0] + reach * np.cos(turn), centre[1] + reach * np.sin(turn)])).buffer(0)


def blob() -> Polygon:
    t = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    r = 30 + 4 * np.cos(3 * t) + 2 * np.sin(5 * t)
    whole = Polygon(np.column_stack([36 + r * np.cos(t), 36 + r * np.sin(t)]))
    holes = [Point(36 + 20 * np.cos(a), 36 + 20 * np.sin(a)).buffer(2.5) for a in np.linspace(0, 2 * np.pi, 9)[:-1]]
    holes += [Point(36 + 8 * np.cos(a), 36 + 8 * np.sin(a)).buffer(2.0) for a in np.linspace(0.4, 6.7, 5)[:-1]]
    return whole.difference(unary_union(holes))


def sieve(size: float = 250.0, count: int = 200, seed: int = 1) -> Polygon:
    random = np.random.default_rng(seed)
    holes: list[tuple[float, float, float]] = []
    while len(holes) < count:
        x, y, r = *random.uniform(6, size - 6, 2), random.uniform(1.5, 4)
        if all(np.hypot(x - a, y - b) > r + c + 1.5 for a, b, c in holes):
            holes.append((x, y, r))
    return box(0, 0, size, size).difference(unary_union([Point(x, y).buffer(r) for x, y, r in holes]))


def nasty(random: np.random.Generator) -> Polygon:
    """A random polygon of one of six unpleasant families."""
    kind = random.integers(6)
    middle = (15.0, 15.0)
    shape: shapely.Geometry
    if kind == 0:
        shape = pebble(random, middle, random.uniform(0.5, 15), int(random.integers(3, 60)), 0.9)
    elif kind == 1:
        shape = pebble(random, middle, 14, 40, 0.2)
        for _ in range(random.integers(1, 15)):
            spot = tuple(random.uniform(2, 28, 2))
            shape = shape.difference(pebble(random, spot, random.uniform(0.1, 4), int(random.integers(3, 20)), 0.5))
    elif kind == 2:
        shape = LineString(random.uniform(0, 30, (random.integers(2, 12), 2))).buffer(random.uniform(0.05, 2))
    elif kind == 3:
        shape = pebble(random, middle, 14, 30, 0.1)
        for _ in range(random.integers(1, 6)):
            shape = shape.difference(LineString(random.uniform(0, 30, (2, 2))).buffer(random.uniform(0.001, 0.3)))
    elif kind == 4:
        shape = Polygon(random.uniform(0, 30, (random.integers(3, 14), 2))).buffer(0)
    else:
        corners, sizes = random.uniform(0, 20, (8, 2)), random.uniform(0.1, 10, (8, 2))
        shape = unary_union([box(*a, *(a + b)) for a, b in zip(corners, sizes, strict=True)])
    parts = [p for p in shapely.get_parts(shape) if isinstance(p, Polygon) and not p.is_empty]
    return max(parts, key=lambda p: p.area) if parts else box(0, 0, 1, 1)


def row_distances(angle: float) -> tuple[float, float, float]:
    """Mean, standard deviation and 99th percentile of error of the rows' distance in a 50 mm square's field."""
    line, _ = fill(box(0, 0, 50, 50), angle, ROW, STITCH, (0, 0), (50, 50), SETTINGS, FLAT)
    flat = turned(rounded(line), angle)
    a, b = flat[:-1], flat[1:]
    middle = turned(np.array([[25.0, 25.0]]), angle)[0]
    found = []
    for u in middle[0] + np.linspace(-8, 8, 33):
        cut = np.flatnonzero((np.minimum(a[:, 0], b[:, 0]) <= u) & (np.maximum(a[:, 0], b[:, 0]) > u))
        v = np.sort(a[cut, 1] + (u - a[cut, 0]) / (b[cut, 0] - a[cut, 0]) * (b[cut, 1] - a[cut, 1]))
        found.append(np.diff(v[np.abs(v - middle[1]) < 12]))
    gaps = np.concatenate(found)
    return float(gaps.mean()), float(gaps.std()), float(np.percentile(np.abs(gaps - ROW), 99))


def shapes(quick: bool) -> Iterator[tuple[str, Polygon]]:
    disc = Point(25, 25).buffer(25, 64)
    square = box(0, 0, 50, 50)
    yield "square", square
    yield "disc", disc
    yield "square, hole", square.difference(box(20, 20, 30, 30))
    yield "annulus", disc.difference(Point(25, 25).buffer(12, 32))
    yield "star", arm_star()
    yield "comb", comb()
    yield "blob", blob()
    yield "letter", letter()
    yield "spiral", spiral()
    if not quick:
        yield "200 holes", sieve()
        yield "250 square", box(0, 0, 250, 250)


def naive(area: Polygon, angle: float) -> float:
    """Seconds that clipping row by row with shapely takes: rows alone, no order, no needle points."""
    clock = time.process_time()
    flat = Polygon(
        turned(np.array(area.exterior.coords), angle), [turned(np.array(r.coords), angle) for r in area.interiors]
    )
    x0, y0, x1, y1 = flat.bounds
    for v in np.arange(y0 + ROW / 2, y1, ROW):
        flat.intersection(LineString([(x0 - 1, v), (x1 + 1, v)]))
    return time.process_time() - clock


def show(name: str, angle: float, f: Figures) -> None:
    cells = [
        f"{name:13s}{angle:4.0f}{f.stitches:8d}{f.ratio:7.3f}{f.travel:8.2%}{f.on_top:8.2%}{f.covered:9.2%}",
        f"{f.outside:8.3%}{f.lines_outside:4d}{f.shortest:6.2f}{f.longest:6.2f}{f.along:7.4f}{f.thread:7.3f}{f.field_points:6.1f}",
        f"{f.edge_points:6.1f}{f.thick_mm2:7.1f}{f.ends_off:6.1f}{f.end_stitches[0]:6.2f}{f.end_stitches[1]:6.2f}",
        f"{f.milliseconds:8.1f}{f.stitches / f.milliseconds / 1e3:7.2f}\n",
    ]
    sys.stdout.write("".join(cells))


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("--quick", action="store_true")
    options.add_argument("--random", type=int, default=300)
    options.add_argument("--artwork", type=Path, help="a folder of SVG files, 100 of which are taken, seeded")
    arguments = options.parse_args()
    sys.stdout.write(
        "shape        deg stitches  ratio  travel  on top  covered outside out short  long  along thread"
        " field  edge  thick  ends first  last      ms   M/s\n"
    )
    for name, area in shapes(arguments.quick):
        for angle in (0.0, 37.0):
            ring = area.exterior.coords
            show(name, angle, measure(area, angle, ring[0], ring[len(ring) // 2])[0])
    together(f"{arguments.random} random", random_shapes(60 if arguments.quick else arguments.random))
    if arguments.artwork:
        together("parts of artwork", real_parts(arguments.artwork))
    for angle in (0.0, 37.0):
        mean, spread, worst = row_distances(angle)
        sys.stdout.write(
            f"rows at {angle:.0f}°: mean {mean:.4f} mm, spread {spread:.4f}, 99 % within {worst:.3f}\n"
        )
    turn_variants()
    if not arguments.quick:
        growth()


def turn_variants() -> None:
    """One needle point a turn: on the outline, or alternately a little in and out along the row."""
    shapes = {"disc": Point(25, 25).buffer(25, 64), "star": arm_star(), "letter": letter()}
    for sway in (0.0, 0.05, 0.1, 0.2):

        def swayed(*given: Any, sway: float = sway) -> Turns:
            found = turns(*given)
            one = np.flatnonzero(np.diff(found.starts)[1:-1] == 1) + 1
            points = found.points.copy()
            points[found.starts[one], 0] += np.where(one // 2 % 2, sway, -sway)
            return replace(found, points=points)

        cells = [f"turns {sway:.2f} mm in and out:"]
        with patch("pipeline.stitch.tatami.turns", swayed):
            for name, area in shapes.items():
                ring = area.exterior.coords
                figures, line = measure(area, 37.0, ring[0], ring[len(ring) // 2])
                covered, uneven = edge_of(area, line)
                cells.append(
                    f"{name} edge covered {covered:.3%}, uneven {uneven:.3f} mm, ratio {figures.ratio:.3f};"
                )
        sys.stdout.write(" ".join(cells) + "\n")


def random_shapes(count: int) -> Iterator[Figures]:
    dice = np.random.default_rng(7)
    for _ in range(count):
        area = nasty(dice)
        ring = area.exterior.coords
        start, end = (ring[int(dice.integers(len(ring)))] for _ in range(2))
        yield measure(area, float(dice.uniform(0, 180)), start, end)[0]


def real_parts(folder: Path, count: int = 100) -> Iterator[Figures]:
    """The tatami parts of real drawings at 80 mm, as the rooms before this one make them."""
    settings = Settings()
    notes: list[Finding] = []
    for path in Random(5).sample(sorted(folder.rglob("*.svg")), count):
        drawing = read_drawing(path, settings.read, notes.append, 80.0)
        surfaces = assign(
            stack(drawing, settings.regions, notes.append), settings.roles, settings.craft, notes.append
        )
        parts = split(surfaces, settings.split, SETTINGS.craft, notes.append)
        for step in arrange(parts, surfaces, settings.steps, settings.craft, notes.append):
            if step.part.kind == "tatami":
                yield measure(step.part.area, step.part.angle_deg or 0.0, step.start, step.end, step.part.row_mm)[0]


def together(name: str, figures: Iterator[Figures]) -> None:
    found = list(figures)

    def get(key: str) -> np.ndarray:
        return np.array([getattr(f, key) for f in found])

    lines = [
        f"{name} ({len(found)}): covered 5th percentile {np.percentile(get('covered'), 5):.2%},",
        f"least {get('covered').min():.2%}; outside {get('outside').mean():.4%}, lines outside",
        f"{get('lines_outside').sum()}; travel {get('travel').mean():.2%}, on top {get('on_top').mean():.3%};",
        f"shortest {get('shortest').min():.2f}, under 0.5 mm {get('short').sum()} of {get('stitches').sum()},",
        f"longest {get('longest').max():.2f}; ratio {get('ratio').mean():.3f};",
        f"median {np.median(get('milliseconds')):.2f} ms\n",
    ]
    sys.stdout.write(" ".join(lines))


def growth() -> None:
    """How time grows with holes and with area, speed beside a naive loop, cost of the least shape, memory."""

    def seconds(area: Polygon) -> float:
        best = np.inf
        for _ in range(3):
            clock = time.process_time()
            fill(area, 0.0, ROW, STITCH, area.exterior.coords[0], area.exterior.coords[2], SETTINGS, FLAT)
            best = min(best, time.process_time() - clock)
        return best

    few, many = seconds(sieve(250, 100)), seconds(sieve(250, 400))
    small, large = seconds(box(0, 0, 125, 125)), seconds(box(0, 0, 250, 250))
    area = sieve()
    tracemalloc.start()
    line, _ = fill(area, 37.0, ROW, STITCH, area.exterior.coords[0], area.exterior.coords[2], SETTINGS, FLAT)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    lines = [
        f"growth: holes^{np.log(many / few) / np.log(4):.2f}, area^{np.log(large / small) / np.log(4):.2f};",
        f"{naive(area, 0.0) / seconds(area):.1f} × faster than row by row with shapely;",
        f"2 mm square {seconds(box(0, 0, 2, 2)) * 1e3:.2f} ms; {peak / len(line):.0f} B a stitch;",
        f"estimate for 200 holes {fill_estimate(area, 37.0, ROW, STITCH) / len(line):.3f} of what is sewn\n",
    ]
    sys.stdout.write(" ".join(lines))


if __name__ == "__main__":
    main()
