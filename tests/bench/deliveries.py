"""Layered and puzzle-fashion deliveries of one design through roles and stitches; cost of the layer model.

    python tests/bench/deliveries.py twemoji streamline --count 60
    python tests/bench/deliveries.py growth

The first prints, over a seeded sample, cut exactly, with seams of 0.04 and 0.1 mm, and at coordinates of one
decimal (of a mm as sewn): stitches of the cut-out delivery against the layered one, the share of area whose role
agrees, foundation on supported ground, bare cover without foundation, and full layers over the limit
outside reported places. The second prints CPU of regions and roles against the number of regions.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))

from corpora import seeded
from layers import WHOLE, cut, inside

from pipeline import flow
from pipeline.geometry.polygon import multipolygon
from pipeline.measure.findings import inspection_findings
from pipeline.measure.inspection import examine
from pipeline.model import Drawing, Finding, Shape, Surface
from pipeline.read.reading import read_drawing
from pipeline.regions.lines import lies_over
from pipeline.regions.stack import stack
from pipeline.roles.assign import assign
from pipeline.settings import Settings

SETTINGS = Settings()
LEAST_BARE_MM2 = 6.0
WITHIN = 0.98
"""Share of what is hidden that must lie wholly inside outlines for restoring to be able to give it back."""


def sewn(drawing: Drawing) -> tuple[tuple[Surface, ...], int, float, list[Finding]]:
    """Surfaces, stitches, peak of full layers and findings of a drawing."""
    found: list[Finding] = []
    layers = stack(drawing, SETTINGS.regions, found.append)
    surfaces, _, sewing = flow.sew(layers, SETTINGS, found.append)
    seen = examine(sewing, layers, SETTINGS.craft, SETTINGS.measure)
    found += inspection_findings(seen, sewing, SETTINGS.craft, SETTINGS.measure)
    return surfaces, seen.checks.stitches, seen.checks.peak_layers, found


def role_map(surfaces: tuple[Surface, ...], role: str) -> shapely.Geometry:
    """Where what shows has this role; base and mixed count by their bare part, since that decides foundation."""
    seen = [s.region.visible.intersection(s.bare) if role == "bare" else s.region.visible for s in surfaces]
    return shapely.union_all(seen)


def with_seam(area: shapely.MultiPolygon, seam_mm: float) -> shapely.MultiPolygon:
    """A piece that leaves half of a seam along its edge."""
    return multipolygon(shapely.buffer(area, -seam_mm / 2, join_style="mitre"))


def to_tenths(area: shapely.MultiPolygon, _: float) -> shapely.MultiPolygon:
    """A piece as an exporter writes it with one decimal."""
    return multipolygon(shapely.make_valid(shapely.transform(area, lambda xy: xy.round(1))))


CUTS = {
    "exact": (with_seam, 0.0),
    "seam 0.04": (with_seam, 0.04),
    "seam 0.1": (with_seam, 0.1),
    "tenths": (to_tenths, 0.0),
}


def delivered(puzzle: Drawing, way: str) -> Drawing:
    """A puzzle-fashion drawing as it arrives."""
    work, seam_mm = CUTS[way]
    shapes = [replace(shape, area=work(shape.area, seam_mm)) for shape in puzzle.shapes]
    return replace(puzzle, shapes=tuple(shape for shape in shapes if not shape.area.is_empty))


def outlines_turned(whole: tuple[Surface, ...], puzzle: tuple[Surface, ...]) -> float:
    """Area in mm² of lines that lie on top in layers, and under fills of other colours in the puzzle's plan."""
    seen = tuple(replace(s.region, outline=s.region.visible) for s in whole)
    drawn = [
        region for region, line in zip(seen, lies_over(seen, SETTINGS.regions).any(axis=1), strict=True) if line
    ]
    turned = 0.0
    for k, lower in enumerate(puzzle):
        above = [s.region.outline for s in puzzle[k + 1 :] if s.region.colour != lower.region.colour]
        own = [line.visible for line in drawn if line.colour == lower.region.colour]
        if above and own:
            hidden = lower.region.outline.intersection(shapely.union_all(above)).area
            mine = lower.region.visible.intersection(shapely.union_all(own)).area
            if mine > 0.5 * lower.region.visible.area and hidden > lower.region.visible.area:
                turned += hidden
    return turned


def one(job: tuple[str, float]) -> dict[str, float | str]:
    """One file's figures."""
    path, width = Path(job[0]), job[1]
    notes: list[Finding] = []
    try:
        drawing = read_drawing(path, SETTINGS.read, notes.append, width)
        whole = stack(drawing, WHOLE, notes.append)
        surfaces, stitches, layers, found = sewn(drawing)
        puzzles = {way: sewn(delivered(cut(whole, drawing, None), way)) for way in CUTS}
    except Exception as error:
        return {"name": path.name, "error": repr(error)[:200]}
    bare, shown = role_map(surfaces, "bare"), role_map(surfaces, "all")
    hidden = sum(region.outline.difference(region.visible).area for region in whole)
    within = sum(place.area for region in whole if (place := inside(region)) is not None)
    margin = SETTINGS.roles.foundation_margin_mm + 0.01
    founded = sum(s.foundation.area for s in surfaces)
    astray = sum(s.foundation.difference(s.bare.buffer(margin)).area for s in surfaces)
    without = sum(
        place.area
        for s in surfaces
        for place in s.bare.geoms
        if place.area > LEAST_BARE_MM2 and not place.intersects(s.foundation)
    )
    wide = sum(
        place.area
        for s in surfaces
        for place in s.bare.geoms
        if place.area > LEAST_BARE_MM2 and not place.intersects(s.foundation) and not place.buffer(-0.3).is_empty
    )
    reported = any(f.code == "too-thick" for f in found)
    return {
        "name": path.name,
        **{f"stitches, {way}": made[1] / stitches - 1.0 for way, made in puzzles.items()},
        **{
            f"roles, {way}": 1.0
            - bare.symmetric_difference(role_map(made[0], "bare")).intersection(shown).area / max(shown.area, 1e-9)
            for way, made in puzzles.items()
        },
        **{f"turned, {way}": outlines_turned(surfaces, made[0]) for way, made in puzzles.items()},
        "within": within / hidden if hidden > 0 else 1.0,
        "astray": astray,
        "founded": founded,
        "without": without,
        "wide": wide,
        "layers": layers,
        "reported": float(reported),
        "thinned": float(any(f.code == "inside-removed" for f in found)),
    }


def deliveries(names: list[str], count: int, width: float) -> None:
    """Run and print the first part."""
    files = [path for name in names for path in seeded(name, count)]
    rows = [one((str(path), width)) for path in files]
    good = [row for row in rows if "error" not in row]
    for row in rows:
        if "error" in row:
            print("failed", row["name"], row["error"])
    for way in CUTS:
        agreement("all files", way, good)
    agreement("nothing hidden at an outer border", "exact", [r for r in good if float(r["within"]) >= WITHIN])
    astray = sum(float(row["astray"]) for row in good) / max(sum(float(row["founded"]) for row in good), 1e-9)
    print(f"foundation on supported ground, margins apart: {astray:.4%} of its area")
    print(f"bare cover over 6 mm² without foundation: {sum(float(row['without']) for row in good):.2f} mm², "
          f"of it in places wider than 0.6 mm: {sum(float(row['wide']) for row in good):.2f} mm²")  # fmt: skip
    print(f"an inside removed in {sum(bool(row['thinned']) for row in good)} files")
    for limit in (SETTINGS.roles.max_layers + 0.2, SETTINGS.measure.most_layers):
        over = [row for row in good if float(row["layers"]) > limit]
        silent = [f"{row['name']} {row['layers']:.2f}" for row in over if not row["reported"]]
        print(
            f"a place over {limit:.1f} full layers in {len(over)} files, unreported in {len(silent)}: {silent[:6]}"
        )
    worst = sorted(((abs(float(row["stitches, exact"])), str(row["name"])) for row in good), reverse=True)[:8]
    print("differ most: " + ", ".join(f"{n} {v:.1%}" for v, n in worst))


def agreement(label: str, way: str, rows: list[dict[str, float | str]]) -> None:
    """How far the puzzle delivery's plans are from the layered one's."""
    ratio = np.array([row[f"stitches, {way}"] for row in rows], dtype=float)
    same = np.array([row[f"roles, {way}"] for row in rows], dtype=float)
    turned = np.array([row[f"turned, {way}"] for row in rows], dtype=float)
    print(f"{label}, {way}: {len(rows)} files; lines turned to grounds in {int((turned > 0).sum())}")
    print(f"  stitches of the puzzle delivery: median {np.median(ratio):+.2%}, 5th {np.percentile(ratio, 5):+.2%}, "
          f"95th {np.percentile(ratio, 95):+.2%}, within 3 %: {(np.abs(ratio) <= 0.03).mean():.1%}")  # fmt: skip
    print(f"  area whose role agrees: median {np.median(same):.2%}, 5th percentile {np.percentile(same, 5):.2%}, "
          f"at least 95 %: {(same >= 0.95).mean():.1%}")  # fmt: skip
    poor = sorted((float(row[f"roles, {way}"]), str(row["name"])) for row in rows)[:8]
    print("  roles differ most: " + ", ".join(f"{n} {v:.1%}" for v, n in poor))


def growth() -> None:
    """CPU of regions and roles on scattered discs, about three overlaps each."""
    for count in (50, 100, 200, 400, 1000):
        random_ = np.random.default_rng(3)
        side = 8.0 * np.sqrt(count)
        places, radii = random_.uniform(0, side, (count, 2)), random_.uniform(2, 7, count)
        discs = [
            multipolygon(shapely.Point(*p).buffer(r, quad_segs=24)) for p, r in zip(places, radii, strict=True)
        ]
        colours = [f"#{k % 9:06x}" for k in range(count)]
        shapes = tuple(Shape(f"d{k}", None, colours[k], disc) for k, disc in enumerate(discs))
        drawing = Drawing("growth", "0" * 64, float(side), float(side), shapes)
        began = time.process_time()
        layers = stack(drawing, replace(SETTINGS.regions), lambda f: None)
        middle = time.process_time()
        assign(layers, SETTINGS.roles, SETTINGS.craft, lambda f: None)
        end = time.process_time()
        print(
            f"{count:5d} shapes, {len(layers):5d} kept: regions {middle - began:.3f} s, roles {end - middle:.3f} s"
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sets", nargs="+", choices=["twemoji", "flags", "streamline", "openclipart", "growth"])
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--width", type=float, default=80.0)
    args = parser.parse_args()
    if args.sets == ["growth"]:
        growth()
    else:
        deliveries(args.sets, args.count, args.width)
