"""One narrow shape through the rooms from split to tie, and its figures from needle points alone."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree
from shapely.geometry import MultiPolygon, Polygon

from pipeline.errors import ArtworkError
from pipeline.geometry.polygon import multipolygon
from pipeline.geometry.raster import Grid, paint_polygons, paint_segments
from pipeline.model import Block, Part, Region, Sewing, Surface
from pipeline.read.reading import read_drawing
from pipeline.regions.stack import stack
from pipeline.roles.assign import assign
from pipeline.settings import Settings
from pipeline.split.parts import split
from pipeline.steps.arrange import arrange
from pipeline.stitch.settings import StitchSettings
from pipeline.stitch.sew import sew as stitch
from pipeline.tie.join import join

PX = 20
THREAD_MM, NEAR_MM = 0.25, 0.1
"""The handbook's way of counting coverage."""

SETTINGS = Settings()
KINDS = StitchSettings(SETTINGS.tatami, SETTINGS.satin, SETTINGS.run)
PULL_SHARE = SETTINGS.satin.pull_share / 2.0


@dataclass
class Sewn:
    """A shape's parts, stitches and figures."""

    area: MultiPolygon
    parts: tuple[Part, ...]
    blocks: tuple[Block, ...]
    sewing: Sewing
    cpu: float
    covered: list[float] = field(default_factory=list)
    """Share of every polygon of the shape."""
    gap_disc: float = 0.0
    """Diameter of the largest disc in what is not covered."""
    gap_long: float = 0.0
    """Extent of the longest uncovered patch that is at least 0.1 mm wide."""
    outside: float = 0.0
    """Share of the cover's length farther outside than compensation and 0.1 mm."""
    penetrations: int = 0
    """Most needle points in a circle of 1 mm."""
    unlocked: int = 0
    """The same without the locks at the thread's ends."""
    short: int = 0
    long: int = 0
    stitches: int = 0
    trims: int = 0
    fell_back: int = 0


def surfaces_of(path: Path) -> tuple[Surface, ...]:
    """The surfaces of a file, 80 mm wide; none if it cannot be sewn."""
    try:
        drawing = read_drawing(path, SETTINGS.read, _unheard, 80.0)
        layers = stack(drawing, SETTINGS.regions, _unheard)
        return assign(layers, SETTINGS.roles, SETTINGS.craft, _unheard)
    except ArtworkError:
        return ()


def _unheard(finding: object) -> None:
    """Findings do not matter here."""


def surface(area: MultiPolygon | Polygon, name: str = "bench") -> Surface:
    """The area as a base on bare fabric."""
    outline = multipolygon(area)
    region = Region("r1", name, None, 0, "#204060", outline, outline)
    return Surface(region, "base", (), outline, outline, SETTINGS.fabric.row_mm, 0.0, name)


def sew(area: MultiPolygon | Polygon) -> Sewn:
    """Split, stitch (their CPU is counted), order and tie a shape."""
    place = surface(area)
    began = time.process_time()
    parts = split((place,), SETTINGS.split, SETTINGS.craft, lambda finding: None)
    spent = time.process_time() - began
    order = arrange(parts, (place,), SETTINGS.steps, SETTINGS.craft, lambda finding: None)
    began = time.process_time()
    blocks = stitch(order, KINDS, SETTINGS.craft, lambda finding: None)
    spent += time.process_time() - began
    sewing = join(blocks, SETTINGS.tie, SETTINGS.craft)
    return Sewn(place.region.outline, parts, blocks, sewing, spent)


def judged(area: MultiPolygon | Polygon) -> Sewn:
    """``sew`` with all figures."""
    sewn = sew(area)
    segments, cover = cover_stitches(sewn.sewing)
    _coverage(sewn, segments[cover])
    _lengths(sewn)
    sewn.outside = _outside(sewn, segments[cover])
    sewn.penetrations = penetrations(np.vstack([p.points for p in sewn.sewing.passes]))
    sewn.unlocked = penetrations(np.vstack([p.points for p in sewn.sewing.passes if p.layer != "lock"]))
    sewn.fell_back = sum("too uneven" in part.why for part in sewn.parts)
    sewn.trims = max(0, sum(p.approach == "trim" for p in sewn.sewing.passes) - (len(sewn.area.geoms) - 1))
    return sewn


def cover_stitches(sewing: Sewing) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Sewn stitches ``(n, 2, 2)``, and which of them are cover."""
    passes = sewing.passes
    every = np.vstack([p.points for p in passes])
    sewn = np.concatenate([[p.approach == "sewn"] + [True] * (len(p.points) - 1) for p in passes])[1:]
    cover = np.concatenate([np.full(len(p.points), p.layer == "cover") for p in passes])[1:]
    return np.stack([every[:-1], every[1:]], axis=1)[sewn], cover[sewn]


def filled(grid: Grid, area: MultiPolygon | Polygon) -> NDArray[np.bool_]:
    """The cells whose centres lie in ``area``."""
    into: NDArray[np.bool_] = grid.full(False, np.bool_)
    paint_polygons(grid, [area], [1], into)
    return into


def _coverage(sewn: Sewn, segments: NDArray[np.float64]) -> None:
    grid = Grid.around(sewn.area.bounds, PX, 0.5)
    near = grid.full(0, np.uint8)
    paint_segments(grid, segments, THREAD_MM + 2 * NEAR_MM, 1, near)
    for polygon in sewn.area.geoms:
        inside = filled(grid, polygon)
        sewn.covered.append(float((near[inside] > 0).mean()) if inside.any() else 1.0)
    bare = filled(grid, sewn.area) & (near == 0)
    if not bare.any():
        return
    deep = ndimage.distance_transform_edt(np.pad(bare, 1))[1:-1, 1:-1]
    sewn.gap_disc = float(2.0 * (deep.max() - 0.5) / PX)
    patches, count = ndimage.label(bare, np.ones((3, 3)))
    thick = ndimage.maximum(deep, patches, np.arange(1, count + 1))
    for box, most in zip(ndimage.find_objects(patches), thick, strict=True):
        if 2.0 * (most - 0.5) / PX >= 0.1:
            size = np.hypot(box[0].stop - box[0].start, box[1].stop - box[1].start) / PX
            sewn.gap_long = max(sewn.gap_long, float(size))


def _outside(sewn: Sewn, segments: NDArray[np.float64]) -> float:
    """The stitches' middle lines against the outline moved out by compensation and 0.1 mm."""
    widest = max((part.width_mm[2] for part in sewn.parts if part.kind == "satin"), default=0.0)
    room = max(SETTINGS.fabric.pull_mm, PULL_SHARE * min(widest, SETTINGS.split.satin_up_to_mm)) + 0.1
    lines = shapely.linestrings(segments)
    total = shapely.length(lines).sum()
    return float(shapely.length(shapely.difference(lines, sewn.area.buffer(room))).sum() / max(total, 1e-9))


def _lengths(sewn: Sewn) -> None:
    passes = sewn.sewing.passes
    every = np.vstack([p.points for p in passes])
    lock = np.concatenate([np.full(len(p.points), p.layer == "lock") for p in passes])[1:]
    thread = np.concatenate([[p.approach == "sewn"] + [True] * (len(p.points) - 1) for p in passes])[1:]
    length = np.hypot(*np.diff(every, axis=0).T)
    sewn.short = int((length[thread & ~lock] < 0.3 - 1e-9).sum())
    sewn.long = int((length[thread] > 7.0 + 0.1).sum())
    sewn.stitches = len(length)


def penetrations(points: NDArray[np.float64]) -> int:
    """Most points in a circle of 1 mm diameter whose centre lies on a grid of 0.1 mm."""
    step = np.mgrid[-4:5, -4:5].reshape(2, -1).T * 0.1
    centres = np.unique(np.round((np.round(points, 1)[:, None] + step[None]).reshape(-1, 2), 1), axis=0)
    return int(cKDTree(points).query_ball_point(centres, 0.5 + 1e-9, return_length=True).max())
