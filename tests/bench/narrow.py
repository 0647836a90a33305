"""Figures of narrow parts against the bars: ``python tests/bench/narrow.py [shapes|letters|steady|art|axis ...]``.

``shapes``: exact shapes, rungs and needle points against the truth by construction. ``letters``: alphabets of two
fonts for tuning and eight for judging only. ``steady``: outline noise and turning. ``art``: narrow parts of seeded
third-party artwork; ``twemoji`` or ``openclipart`` for one of its sets. ``axis``: the medial axis against exact
shapes and scikit-image's. Without a name, all of them.
"""

from __future__ import annotations

import random
import sys
import traceback
from collections import Counter
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.affinity import rotate, scale
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

sys.path.insert(0, str(Path(__file__).parents[1]))

from corpora import corpus
from letters import JUDGING, TUNING, glyphs
from narrow_judge import SETTINGS, Sewn, judged, penetrations, sew, surface, surfaces_of
from split import off_square

from pipeline.geometry.medial import medial_axis
from pipeline.model import Column, Finding, Part
from pipeline.split.parts import split
from pipeline.split.settings import SplitSettings
from pipeline.stitch.chords import Pace, paced

NOISE_MM = 0.06
SETS = {"twemoji": 200, "openclipart": 100}
"""How many files of each set are sampled."""


def main() -> None:
    """Print what is asked for."""
    tables = {"shapes": shapes, "letters": letters, "steady": steady, "art": art, "axis": axis}
    sets = {name: partial(art, (name,)) for name in SETS}
    for name in sys.argv[1:] or tables:
        (tables | sets)[name]()


def coil(width: float) -> Polygon:
    turn = np.linspace(0, 5 * np.pi, 400)
    line = np.column_stack([(2 + 0.66 * turn) * np.cos(turn), (2 + 0.66 * turn) * np.sin(turn)])
    return LineString(line).buffer(width / 2, cap_style="flat", quad_segs=32)


def rope() -> Polygon:
    """A border of two strands that cross again and again."""
    x = np.linspace(0, 60, 500)
    strands = [LineString(np.column_stack([x, side * 2.2 * np.sin(x / 3)])).buffer(0.9) for side in (1, -1)]
    return shapely.union_all(strands)


def samples() -> dict[str, Polygon]:
    disc = Point(0, 0).buffer(1, quad_segs=90)
    x = np.linspace(0, 40, 300)
    wave = LineString(np.column_stack([x, 4 * np.sin(x / 5)])).buffer(1.25, cap_style="flat", quad_segs=32)
    bar = box(-10, -1.2, 10, 1.2)
    comb = shapely.union_all([box(0, 0, 30, 3), *(box(k, 0, k + 1.6, 14) for k in range(1, 30, 4))])
    return {
        "rectangle 30 × 3": box(0, 0, 30, 3),
        "annulus 6…8": scale(disc, 8, 8).difference(scale(disc, 6, 6)),
        "wedge 0.5→6": Polygon([(0, -0.25), (50, -3), (50, 3), (0, 0.25)]),
        "ellipse 20 × 5": scale(disc, 10, 2.5),
        "wave of 2.5": wave,
        "spiral of 2.5": coil(2.5),
        "L": box(0, 0, 2.5, 20).union(box(0, 0, 14, 2.5)),
        "T": box(0, 0, 16, 2.5).union(box(6.7, 0, 9.3, 18)),
        "X": rotate(bar, 45).union(rotate(bar, -45)),
        "comb": comb,
        "rope border": rope(),
    }


def shapes() -> None:
    """Rungs and needle points of exact shapes."""
    print(f"{'shape':18} {'kinds':28} square p95  max° crossing  width ±  covered pen trims  ms")
    for name, shape in samples().items():
        sewn = judged(shape)
        columns = [part.column for part in sewn.parts if part.column is not None]
        square = _off_radius if name.startswith("annulus") else off_square
        angles = np.concatenate([square(c) for c in columns]) if columns else np.zeros(1)
        crossed = sum(int(shapely.crosses(_rungs(c)[:-1], _rungs(c)[1:]).sum()) for c in columns)
        kinds = ", ".join(f"{n} {kind}" for kind, n in sorted(Counter(p.kind for p in sewn.parts).items()))
        print(
            f"{name:18} {kinds:28} {np.percentile(angles, 95):9.3f} {angles.max():6.2f} {crossed:8d}"
            f" {_width_error(name, columns):8.4f} {min(sewn.covered):8.4f} {sewn.penetrations:3d} {sewn.trims:5d}"
            f" {1000 * sewn.cpu:4.0f}"
        )
    _boundary()
    _exactness()
    _pitch()
    _chords()


def _rungs(column: Column) -> NDArray[np.object_]:
    return np.asarray(shapely.linestrings(np.stack([column.left, column.right], axis=1)))


def _off_radius(column: Column) -> NDArray[np.float64]:
    """Degrees between a ring's rungs and its radii."""
    across, out = column.left - column.right, 0.5 * (column.left + column.right)
    cross = across[:, 0] * out[:, 1] - across[:, 1] * out[:, 0]
    return np.asarray(np.degrees(np.arcsin(np.abs(cross) / (np.hypot(*across.T) * np.hypot(*out.T)))))


def _width_error(name: str, columns: list[Column]) -> float:
    """95th percentile of the rungs' error in length, where the truth is known."""
    if len(columns) != 1 or name.split()[0] not in ("rectangle", "annulus", "wedge"):
        return float("nan")
    column = columns[0]
    widths = np.hypot(*(column.left - column.right).T)
    truth = {"rectangle": 3.0, "annulus": 2.0}.get(name.split()[0])
    if truth is None:
        truth = 0.5 + 5.5 * 0.5 * (column.left + column.right)[:, 0] / 50
    return float(np.percentile(np.abs(widths - truth), 95))


def _boundary() -> None:
    """Where a wedge changes its kind, against where its width crosses the limit."""
    lower = SplitSettings(hairline_mm=1.0)
    for name, low, high, settings, limit, wider in (
        ("satin to tatami, 2→12", 2.0, 12.0, SplitSettings(), SplitSettings().satin_up_to_mm, "tatami"),
        ("run to satin, 0.3→4", 0.3, 4.0, lower, lower.run_below_mm, "satin"),
    ):
        shape = Polygon([(0, -low / 2), (60, -high / 2), (60, high / 2), (0, low / 2)])
        parts = split(
            (surface(shape),), SplitSettings(**{**vars(settings), "overlap_mm": 0.0}), SETTINGS.craft, _unheard
        )
        found = max(part.area.bounds[2] for part in parts if part.kind != wider)
        print(f"split boundary, {name}: off by {found - 60 * (limit - low) / (high - low):+.2f} mm")


def _exactness() -> None:
    """Parts against the region without overlap."""
    plain = SplitSettings(overlap_mm=0.0)
    lost = twice = total = 0.0
    for area in (*samples().values(), *(a for _, a in glyphs("DejaVu Serif", 15.0))):
        parts = split((surface(area),), plain, SETTINGS.craft, _unheard)
        union = shapely.union_all([part.area for part in parts])
        lost += union.symmetric_difference(area).area
        twice += sum(part.area.area for part in parts) - union.area
        total += area.area
    print(f"parts against region: {lost / total:.6%} off; twice outside joints: {twice / total:.6%}")


def _pitch() -> None:
    """Needle points of a ring before they are rounded to the grid: distances on the outer and on the inner side."""
    disc = Point(0, 0).buffer(1, quad_segs=180)
    for name, outer, inner in (("6…8", 8.0, 6.0), ("1…4.5", 4.5, 1.0)):
        sewn = sew(scale(disc, outer, outer).difference(scale(disc, inner, inner)))
        strands = [strand for block in sewn.blocks for strand in block.strands if strand.layer == "cover"]
        cover = np.vstack([strand.points for strand in strands])
        # Each point of the seam's overlap lies between two of the beginning, as it should: leave it out.
        turn = np.unwrap(np.arctan2(cover[:, 1], cover[:, 0]))
        cover = cover[np.abs(turn - turn[0]) < 2 * np.pi - 0.5]
        far = np.hypot(*cover.T)
        out, near = cover[far > outer - 0.2], cover[far < outer - 0.2]
        steps = np.hypot(*np.diff(out, axis=0).T)[1:-1]
        apart = np.sort(np.hypot(near[:, None, 0] - near[None, :, 0], near[:, None, 1] - near[None, :, 1]), axis=1)
        print(
            f"ring {name}: outer side {steps.min():.3f} to {steps.max():.3f} mm apart, inner side at least"
            f" {apart[:, 1].min():.3f}; most in a 1 mm circle {penetrations(cover)}"
        )


def _chords() -> None:
    """How far a run's chords are from its line, before rounding to the grid."""
    run = SETTINGS.run
    pace = Pace(run.stitch_mm, SETTINGS.craft.planned_mm, run.chord_mm, run.corner_deg)
    worst = 0.0
    for seed in range(40):
        rng = np.random.default_rng(seed)
        turn = np.cumsum(rng.normal(0, 0.12, 400))
        line = np.cumsum(0.1 * np.column_stack([np.cos(turn), np.sin(turn)]), axis=0)
        worst = max(worst, float(shapely.hausdorff_distance(LineString(line), LineString(paced(line, pace)[0]))))
    print(f"run chord error, 40 random lines of 40 mm with bends to 0.4 mm radius: at most {worst:.3f} mm")


def letters() -> None:
    """Alphabets."""
    every: dict[str, list[Sewn]] = {}
    for group, fonts, sizes in (("tuning", TUNING, (8, 15, 40)), ("judging", JUDGING, (6, 8, 12, 20, 30))):
        for font in fonts:
            for size in sizes:
                sewn = _alphabet(font, size)
                print(f"{font:24} {size:3d} mm  {_line(sewn)}")
                every.setdefault(f"{group} {'from 12' if size >= 12 else '6 to 8'}", []).extend(sewn)
    for name, sewn in every.items():
        print(f"{name:28}  {_line(sewn)}")


def _alphabet(font: str, size: float) -> list[Sewn]:
    done = []
    for letter, area in glyphs(font, size):
        try:
            done.append(judged(area))
        except Exception:
            print(f"  exception: {font} {size} {letter}: {traceback.format_exc().splitlines()[-1]}")
    return done


def _line(sewn: list[Sewn]) -> str:
    covered = np.concatenate([one.covered for one in sewn])
    stitches = sum(one.stitches for one in sewn)
    return (
        f"covered {covered.mean():.4f} p5 {np.percentile(covered, 5):.4f} <97 % {np.mean(covered < 0.97):.2%}"
        f" <90 % {(covered < 0.9).sum()}; gaps over 1 mm {sum(one.gap_disc > 1.0 for one in sewn)} (long ones"
        f" {sum(one.gap_long > 1.0 for one in sewn)}); outside {np.mean([one.outside for one in sewn]):.4%};"
        f" penetrations {max(one.penetrations for one in sewn)},"
        f" over 14 in {np.mean([one.penetrations > 14 for one in sewn]):.1%}"
        f" (without locks {max(one.unlocked for one in sewn)},"
        f" {np.mean([one.unlocked > 14 for one in sewn]):.1%}); short {sum(o.short for o in sewn) / stitches:.3%}"
        f" long {sum(o.long for o in sewn)}; trims {sum(o.trims for o in sewn)}; fall-backs"
        f" {sum(o.fell_back for o in sewn)} of {sum(len(o.parts) for o in sewn)};"
        f" CPU {1000 * np.mean([o.cpu for o in sewn]):.0f} ms; n {len(covered)}"
    )


def steady() -> None:
    """Noise on the outline, and turning."""
    rng = np.random.default_rng(6)
    for font in TUNING | JUDGING:
        worst, same, total = (1.0, ""), 0, 0
        for letter, area in glyphs(font, 15.0):
            sewn = judged(_noisy(area, rng))
            worst = min(worst, (min(sewn.covered), letter))
            plain = _columns(area)
            for angle in (17.0, 33.0, 90.0):
                same += _columns(rotate(area, angle, origin=(0, 0))) == plain
                total += 1
        print(
            f"{font:24} noise ±{NOISE_MM}: worst covered {worst[0]:.4f} ({worst[1]});"
            f" turned: same {same / total:.1%}"
        )


def _noisy(area: MultiPolygon, rng: np.random.Generator) -> MultiPolygon | Polygon:
    """The outline with a corner every 0.4 mm, each moved by up to ``NOISE_MM`` both ways."""
    polygons = []
    for polygon in shapely.get_parts(shapely.segmentize(area, 0.4)):
        rings = []
        for line in (polygon.exterior, *polygon.interiors):
            spots = shapely.get_coordinates(line)[:-1]
            rings.append(spots + rng.uniform(-NOISE_MM, NOISE_MM, spots.shape))
        polygons.append(shapely.make_valid(Polygon(rings[0], rings[1:])))
    # Where the outline crosses itself it leaves specks, which are not sewn but reported.
    whole = surface(shapely.union_all(polygons)).region.outline
    return MultiPolygon([p for p in whole.geoms if p.area > SETTINGS.split.least_area_mm2])


def _columns(area: MultiPolygon) -> int:
    return sum(part.kind == "satin" for part in split((surface(area),), SETTINGS.split, SETTINGS.craft, _unheard))


def art(names: tuple[str, ...] = tuple(SETS)) -> None:
    """Narrow parts of seeded artwork: every polygon whose parts are all narrow."""
    for name in names:
        files = corpus(name)
        sewn: list[Sewn] = []
        fine: list[bool] = []
        kinds: Counter[str] = Counter()
        bad = 0
        for path in random.Random(20).sample(files, min(SETS[name], len(files))):
            for label, polygon in _polygons(path):
                try:
                    heard: list[Finding] = []
                    parts = split((surface(polygon),), SETTINGS.split, SETTINGS.craft, heard.append)
                    kinds.update(part.kind for part in parts)
                    if parts and all(part.kind != "tatami" for part in parts) and polygon.area > 0.5:
                        sewn.append(judged(polygon))
                        fine.append(any(finding.code == "too-fine-for-shape" for finding in heard))
                        _tell(label, sewn[-1], fine[-1])
                except Exception:
                    bad += 1
                    print(f"  exception: {label}: {traceback.format_exc().splitlines()[-1]}")
        print(f"{name}: {dict(kinds)}, exceptions {bad}")
        least, told = np.array([min(one.covered) for one in sewn]), np.array(fine)
        for which, some in (("all", least), ("without those reported as too fine for their shape", least[~told])):
            print(f"  {which}: under 97 % {(some < 0.97).sum()}, under 90 % {(some < 0.9).sum()} of {len(some)}")
        print(f"  {_line(sewn)}")


def _polygons(path: Path) -> Iterator[tuple[str, Polygon]]:
    """Every polygon of a file's regions, 80 mm wide, with a name to find it by."""
    for place in surfaces_of(path):
        for polygon in place.region.outline.geoms:
            yield f"{path.name} {place.region.id}", polygon


def _tell(label: str, sewn: Sewn, fine: bool) -> None:
    """Name a polygon that is covered badly or cut, and whether it was reported as too fine for its shape."""
    least = min(sewn.covered)
    if least < 0.97 or sewn.trims:
        print(
            f"  {label}: covered {least:.3f}, trims {sewn.trims}{', too fine' if fine else ''};"
            f" {_sewn_as(sewn.parts)}"
        )


def _sewn_as(parts: tuple[Part, ...]) -> str:
    return ", ".join(f"{part.kind} {part.area.area:.1f} mm² {part.width_mm[1]:.2f} wide" for part in parts[:4])


def axis() -> None:
    """The medial axis against exact shapes (handbook of geometry) and scikit-image's on a raster."""
    spots, radii = _axis_of(box(0, -1.5, 30, 1.5))
    inner = (spots[:, 0] > 1.5) & (spots[:, 0] < 28.5)
    _off("rectangle 30 × 3", spots[inner], radii[inner], np.full(inner.sum(), 1.5))
    alpha = np.arctan(5.5 / 100)
    spots, radii = _axis_of(Polygon([(0, -0.25), (50, -3), (50, 3), (0, 0.25)]))
    inner = (spots[:, 0] > 2) & (spots[:, 0] < 46.5)
    _off("wedge 0.5→6", spots[inner], radii[inner], (0.25 + spots[inner, 0] * np.tan(alpha)) * np.cos(alpha))
    spots, radii = _axis_of(scale(Point(0, 0).buffer(1, quad_segs=90), 10, 2.5))
    _off("ellipse 20 × 5", spots, radii, 2.5 * np.sqrt(1 - spots[:, 0] ** 2 / (10**2 - 2.5**2)))
    print(f"  its axis reaches ±{np.abs(spots[:, 0]).max():.2f} of ±{(10**2 - 2.5**2) / 10:.2f} mm, less a tip")
    _against_raster()


def _axis_of(shape: Polygon) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    found = medial_axis(shape, 0.15, 0.6)
    return np.vstack([b.points for b in found.branches]), np.concatenate([b.radii for b in found.branches])


def _off(name: str, spots: NDArray[np.float64], radii: NDArray[np.float64], truth: NDArray[np.float64]) -> None:
    print(
        f"{name}: off the middle {np.abs(spots[:, 1]).max():.4f}, radius off {np.abs(radii - truth).max():.4f} mm"
    )


def _against_raster() -> None:
    from skimage.morphology import medial_axis as raster_axis

    from pipeline.geometry.raster import Grid, fill_polygon

    px = 20
    for name, shape in samples().items():
        grid = Grid.around(shape.bounds, px, 0.5)
        skeleton, away = raster_axis(fill_polygon(grid, shape), return_distance=True, rng=0)
        rows, columns = np.nonzero(skeleton)
        spots, radius = grid.places(rows, columns), away[rows, columns] / px
        found = medial_axis(shape, 0.15, 0.6)
        lines = shapely.union_all([LineString(b.points) for b in found.branches])
        ours = np.vstack([b.points for b in found.branches])
        radii = np.concatenate([b.radii for b in found.branches])
        # A raster keeps spurs into corners: ours must lie on theirs, and carry their radius.
        gap = shapely.distance(shapely.points(ours), shapely.MultiPoint(spots))
        nearest = np.argmin(
            np.hypot(ours[:, None, 0] - spots[None, :, 0], ours[:, None, 1] - spots[None, :, 1]), axis=1
        )
        print(
            f"{name:18} ours off theirs p95 {np.percentile(gap, 95):.3f} mm (cells of {1 / px} mm), radius off p95"
            f" {np.percentile(np.abs(radii - radius[nearest]), 95):.3f}; length {lines.length:.1f} mm"
        )


def _unheard(finding: object) -> None:
    """Findings are counted elsewhere."""


if __name__ == "__main__":
    main()
