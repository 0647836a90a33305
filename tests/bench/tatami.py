"""Measures tatami fills over a fixed set of shapes and prints one line each: ``python tests/bench/tatami.py``.

After rounding to the machine's 0.1 mm grid; raster at 20 px/mm; thread lies 0.25 mm wide and a place within 0.1 mm
of it counts as covered. ``--quick`` leaves out the 250 mm shapes and most random ones; ``--artwork DIR`` adds the
tatami parts of 100 drawings.
"""

from __future__ import annotations

import argparse
import sys
import time
import tracemalloc
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random

import numpy as np
import shapely
from PIL import Image, ImageDraw
from scipy import ndimage
from scipy.spatial import cKDTree
from shapely.geometry import LineString, Point, Polygon, box
from shapely.ops import unary_union

from pipeline import read, regions, roles, split, steps
from pipeline.geometry.scanline import turned
from pipeline.model import Finding, Spot
from pipeline.settings import Settings
from pipeline.stitch.spacing import FIELD, TRAVEL
from pipeline.stitch.tatami import cost, fill
from pipeline.stitch.tatami_settings import TatamiSettings

ROW, STITCH, GRID, PX = 0.2, 4.0, 0.1, 20
SETTINGS = TatamiSettings()


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


@dataclass(frozen=True)
class Figures:
    """What the table shows of one fill."""

    stitches: int
    ratio: float
    travel: float
    on_top: float
    covered: float
    outside: float
    lines_outside: int
    shortest: float
    short: int
    longest: float
    along: float
    thread: float
    field_points: float
    edge_points: float
    thick_mm2: float
    milliseconds: float


def rounded(line: np.ndarray) -> np.ndarray:
    """On the machine's grid."""
    return np.round(line / GRID) * GRID


def measure(area: Polygon, angle: float, start: Spot, end: Spot, row: float = ROW) -> tuple[Figures, np.ndarray]:
    best = np.inf
    for _ in range(3):
        clock = time.process_time()
        line, kind = fill(area, angle, row, STITCH, 0.0, start, end, SETTINGS)
        best = min(best, time.process_time() - clock)
    assert tuple(line[0]) == tuple(start)
    assert tuple(line[-1]) == tuple(end)
    line, travel = rounded(line), kind == TRAVEL
    lengths = np.hypot(*np.diff(line, axis=0).T)
    rings = [turned(np.array(r.coords), angle) for r in (area.exterior, *area.interiors)]
    extents = [np.abs(np.diff(ring[:, 1])).sum() for ring in rings]
    bound = area.area / (row * STITCH) + 0.5 * sum(extents) / row
    lines = shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1))
    wide = area.buffer(0.2)
    shapely.prepare(wide)
    loose = np.flatnonzero(~shapely.covers(wide, lines))
    spill = shapely.length(shapely.difference(lines[loose], wide))
    covered, field, edge, thick = painted(area, line, lengths)
    found = Figures(
        stitches=len(line) - 1,
        ratio=(len(line) - 1) / bound,
        travel=lengths[travel[1:]].sum() / lengths.sum(),
        on_top=on_top(line, travel, lengths) / lengths.sum(),
        covered=covered,
        outside=spill.sum() / lengths.sum(),
        lines_outside=int((spill > 0.5).sum()),
        shortest=lengths.min(),
        short=int((lengths[1:-1] < 0.5 - 1e-6).sum()),
        longest=lengths.max(),
        along=np.abs(np.diff(turned(line, angle)[:, 0]))[kind[1:] == FIELD].sum() * row / area.area,
        thread=lengths[~travel[1:]].sum() * row / area.area,
        field_points=field,
        edge_points=edge,
        thick_mm2=thick,
        milliseconds=best * 1e3,
    )
    return found, line


def sampled(line: np.ndarray, lengths: np.ndarray, every: float) -> tuple[np.ndarray, np.ndarray]:
    """Places along the thread about ``every`` mm apart and the index of the stitch of each."""
    count = np.maximum(np.ceil(lengths / every), 1).astype(int)
    index = np.repeat(np.arange(len(lengths)), count)
    share = (np.arange(len(index)) - np.repeat(np.cumsum(count) - count, count) + 0.5) / count[index]
    return line[index] + share[:, None] * (line[index + 1] - line[index]), index


def painted(area: Polygon, line: np.ndarray, lengths: np.ndarray) -> tuple[float, float, float, float]:
    """Share covered, most penetrations a mm² in field and at edge, mm² over 1.8 layers (spots over 1 mm²)."""
    x0, y0, x1, y1 = area.bounds
    low = np.array([x0 - 1, y0 - 1])
    size = np.ceil((np.array([x1 + 1, y1 + 1]) - low) * PX).astype(int)
    image = Image.new("1", (int(size[0]), int(size[1])))
    draw = ImageDraw.Draw(image)
    for ring, ink in [(area.exterior, 1), *[(r, 0) for r in area.interiors]]:
        draw.polygon([tuple(p) for p in (np.array(ring.coords) - low) * PX - 0.5], fill=ink)
    inside = np.array(image)
    place, index = sampled(line, lengths, 0.5 / PX)
    cell = np.clip(((place - low) * PX).astype(int), 0, size - 1)
    thread = np.zeros((size[1], size[0]), dtype=bool)
    thread[cell[:, 1], cell[:, 0]] = True
    distance = ndimage.distance_transform_edt(~thread) / PX
    covered = float((distance[inside] <= 0.225).mean())
    count = np.maximum(np.ceil(lengths * 2 * PX), 1)
    weight = (lengths / count)[index]
    coarse = size // 2 + 1
    laid = np.bincount((cell[:, 1] // 2) * coarse[0] + cell[:, 0] // 2, weight, minlength=coarse[0] * coarse[1])
    layers = ndimage.uniform_filter(laid.reshape(coarse[1], coarse[0]), 10) * 100 * 0.2
    spots, n = ndimage.label(layers > 1.8)
    sizes = ndimage.sum_labels(np.ones_like(layers), spots, np.arange(1, n + 1)) / 100 if n else np.zeros(1)
    needle = np.clip(((line - low) * PX).astype(int) // 2, 0, coarse - 1)
    holes = np.bincount(needle[:, 1] * coarse[0] + needle[:, 0], minlength=coarse[0] * coarse[1]).reshape(
        coarse[1], coarse[0]
    )
    per_mm2 = ndimage.uniform_filter(holes.astype(float), 10) * 100
    deep = (
        ndimage.distance_transform_edt(np.pad(inside, ((0, 2), (0, 2)))[: 2 * coarse[1] : 2, : 2 * coarse[0] : 2])
        / 10
    )
    field = per_mm2[deep > 2.5]
    edge = per_mm2[deep <= 2.5]
    return (
        covered, float(np.percentile(field, 99.9)) if field.size else 0.0,
        float(np.percentile(edge[edge > 0], 99.5)), float(sizes[sizes > 1.0].sum()),
    )  # fmt: skip


def on_top(line: np.ndarray, travel: np.ndarray, lengths: np.ndarray) -> float:
    """Length of travel that no later stitch of cover comes within 0.2 mm of."""
    place, index = sampled(line, lengths, 0.1)
    hidden = travel[index + 1]
    if not hidden.any():
        return 0.0
    tree = cKDTree(place[~hidden])
    found, near = tree.query(place[hidden], k=32, distance_upper_bound=0.2)
    later = np.append(index[~hidden], -1)[near] > index[hidden][:, None]
    open_ = ~(later & np.isfinite(found)).any(axis=1)
    return float((lengths / np.maximum(np.ceil(lengths / 0.1), 1))[index[hidden]][open_].sum())


def row_distances(angle: float) -> tuple[float, float, float]:
    """Mean, standard deviation and 99th percentile of error of the rows' distance in a 50 mm square's field."""
    line, _ = fill(box(0, 0, 50, 50), angle, ROW, STITCH, 0.0, (0, 0), (50, 50), SETTINGS)
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
        f"{f.edge_points:6.1f}{f.thick_mm2:7.1f}{f.milliseconds:8.1f}{f.stitches / f.milliseconds / 1e3:7.2f}\n",
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
        " field  edge  thick      ms   M/s\n"
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
    if not arguments.quick:
        growth()


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
        drawing = read.read_drawing(path, settings.read, notes.append, 80.0)
        surfaces = roles.assign(
            regions.stack(drawing, settings.regions, notes.append), settings.roles, settings.fabric, notes.append
        )
        parts = split.split(surfaces, settings.split, notes.append)
        for step in steps.arrange(parts, surfaces, settings.steps, settings.fabric, notes.append):
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
            fill(area, 0.0, ROW, STITCH, 0.0, area.exterior.coords[0], area.exterior.coords[2], SETTINGS)
            best = min(best, time.process_time() - clock)
        return best

    few, many = seconds(sieve(250, 100)), seconds(sieve(250, 400))
    small, large = seconds(box(0, 0, 125, 125)), seconds(box(0, 0, 250, 250))
    area = sieve()
    tracemalloc.start()
    line, _ = fill(area, 37.0, ROW, STITCH, 0.0, area.exterior.coords[0], area.exterior.coords[2], SETTINGS)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    lines = [
        f"growth: holes^{np.log(many / few) / np.log(4):.2f}, area^{np.log(large / small) / np.log(4):.2f};",
        f"{naive(area, 0.0) / seconds(area):.1f} × faster than row by row with shapely;",
        f"2 mm square {seconds(box(0, 0, 2, 2)) * 1e3:.2f} ms; {peak / len(line):.0f} B a stitch;",
        f"estimate for 200 holes {cost(area, 37.0, ROW, STITCH) / len(line):.3f} of what is sewn\n",
    ]
    sys.stdout.write(" ".join(lines))


if __name__ == "__main__":
    main()
