"""What the bench of tatami fills measures: from needle points alone, after rounding to the machine's 0.1 mm grid.

Raster at 20 px/mm; thread lies 0.25 mm wide and a place within 0.1 mm of it counts as covered.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np
import shapely
from PIL import Image, ImageDraw
from scipy import ndimage
from scipy.spatial import cKDTree
from shapely.geometry import Polygon

from pipeline.geometry.scanline import turned
from pipeline.model import Spot
from pipeline.settings import Settings
from pipeline.stitch.settings import TatamiSettings
from pipeline.stitch.spacing import FIELD, TRAVEL
from pipeline.stitch.tatami import fill

ROW, STITCH, GRID, PX = 0.2, 4.0, 0.1, 20
SETTINGS = TatamiSettings()
FLAT = replace(Settings(), fabric=replace(Settings().fabric, pull_mm=0.0)).craft
"""No pull compensation: what is sewn is held against the area itself."""
COVERED_MM = 0.225
"""Half a thread and 0.1 mm: a place this near to the thread's middle counts as covered."""
THREAD_MM = 0.125
EDGE_MM = 2.5
"""Places this near to the outline are the edge when penetrations are counted, the others the field."""


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
    ends_off: float
    end_stitches: tuple[float, float]
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
        line, kind = fill(area, angle, row, STITCH, start, end, SETTINGS, FLAT)
        best = min(best, time.process_time() - clock)
    ends_off = float(np.abs(line[[0, -1]] - np.array([start, end])).max())
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
        ends_off=ends_off,
        end_stitches=(float(lengths[0]), float(lengths[-1])),
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
    """Share covered, most penetrations in any mm² of field and of edge, mm² over 1.8 layers (spots over 1 mm²)."""
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
    covered = float((distance[inside] <= COVERED_MM).mean())
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
    field, edge = per_mm2[deep > EDGE_MM], per_mm2[deep <= EDGE_MM]
    return covered, float(field.max(initial=0.0)), float(edge.max(initial=0.0)), float(sizes[sizes > 1.0].sum())


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


def edge_of(area: Polygon, line: np.ndarray) -> tuple[float, float]:
    """Share covered between 0.3 and 1 mm inside the outline, and how uneven the thread's border there is.

    The border is where a ray inwards first meets thread; uneven is the standard deviation of its depth, mm.
    """
    lengths = np.hypot(*np.diff(line, axis=0).T)
    place, _ = sampled(line, lengths, 0.02)
    shape = area.boundary
    shapely.prepare(shape)
    tree = cKDTree(place[shapely.dwithin(shape, shapely.points(place), 2.0)])
    along = np.arange(0.05, area.exterior.length, 0.1)
    here, ahead = (shapely.get_coordinates(area.exterior.interpolate(along + shift)) for shift in (-0.02, 0.02))
    way = (ahead - here) / np.hypot(*(ahead - here).T)[:, None]
    inwards = np.column_stack([-way[:, 1], way[:, 0]]) * (1.0 if area.exterior.is_ccw else -1.0)
    depth = np.arange(-0.5, 1.0, 0.02)
    spots = (0.5 * (here + ahead))[:, None, :] + depth[None, :, None] * inwards[:, None, :]
    far, _ = tree.query(spots.reshape(-1, 2))
    far = far.reshape(len(along), len(depth))
    first = depth[np.argmax(far <= THREAD_MM, axis=1)]
    met = (far <= THREAD_MM).any(axis=1)
    inside = shapely.contains_xy(area, spots[..., 0], spots[..., 1]) & (depth >= 0.3)
    return float((far[inside] <= COVERED_MM).mean()), float(first[met].std())
