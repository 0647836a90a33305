"""Closed lines to areas by SVG's fill rules (W3C SVG 2, 13.4.2), always valid."""

from __future__ import annotations

from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from pipeline.geometry import overlay
from pipeline.geometry.polygon import NOTHING, pieces_of
from pipeline.read.matrix import Matrix, apply
from pipeline.read.sizes import Box

Array = NDArray[np.float64]
Rule = Literal["nonzero", "evenodd"]
# Crossing lines are cut on this grid (mm): far below anything seen, coarse enough to be robust.
GRID = 1e-6
# Cells of the winding table worked on at once, to bound memory.
MOST_CELLS = 4_000_000
# Segments whose boxes overlap, beyond which an outline is refused: cutting takes about 50 µs a pair.
MOST_TANGLED = 60_000
# Segments compared with all others to estimate that number.
SAMPLE = 200


def filled(rings: list[Array], rule: Rule) -> MultiPolygon:
    """The area that ``rings`` (each ``(n, 2)``, closed or not) enclose; empty where they enclose none."""
    loops = [ring for ring in rings if len(ring) >= 3]
    if not loops:
        return NOTHING
    polygons = _polygons(loops)
    if bool(shapely.is_valid(polygons).all()):
        if len(polygons) == 1:
            return shapely.multipolygons(polygons)
        if not _touching(polygons):
            return _nested(polygons, loops, rule)
    refuse_tangle(loops)
    return _faces(loops, rule)


def rule_of(text: str) -> Rule:
    """The fill rule that a property or a shape of CSS names; nonzero unless it says otherwise."""
    return "evenodd" if text.lower() == "evenodd" else "nonzero"


def frame(matrix: Matrix, box: Box) -> Polygon:
    """The rectangle ``box`` mapped, prepared for clipping to it; empty where it has no area."""
    x, y, w, h = box
    window = Polygon(apply(matrix, np.array([(x, y), (x + w, y), (x + w, y + h), (x, y + h)])))
    if window.area <= 0:
        return Polygon()
    shapely.prepare(window)
    return window


def _polygons(loops: list[Array]) -> NDArray[np.object_]:
    """Each loop as a polygon, which may be invalid."""
    sizes = [len(loop) for loop in loops]
    return np.asarray(
        shapely.polygons(
            shapely.linearrings(np.concatenate(loops), indices=np.repeat(np.arange(len(loops)), sizes))
        )
    )


def refuse_tangle(lines: list[Array]) -> None:
    """``ValueError`` where lines ``(n, 2)`` cross each other so often that cutting them would take minutes.

    The number of crossings is estimated from an even sample of segments and their boxes.
    """
    longer = [line for line in lines if len(line) > 1]
    count = sum(map(len, longer)) - len(longer)
    if count * count <= 2 * MOST_TANGLED:
        return
    a, b = np.vstack([line[:-1] for line in longer]), np.vstack([line[1:] for line in longer])
    low, high = np.minimum(a, b), np.maximum(a, b)
    some = np.unique(np.linspace(0, count - 1, SAMPLE).astype(np.int64))
    met = sum(int(np.all((low <= high[i]) & (high >= low[i]), axis=1).sum()) - 3 for i in some)
    if met / len(some) * count / 2 > max(MOST_TANGLED, 12 * count):
        raise ValueError("its outline crosses itself too often")


def whole(shape: BaseGeometry, least_mm2: float = 0.0) -> MultiPolygon:
    """The polygons of more than ``least_mm2`` of an overlay's or a buffer's outcome, in a repeatable order.

    Such outcomes are valid by GEOS's word, so that nothing is checked here; ``tidy`` checks once, at the end.
    """
    parts = pieces_of(np.array([shape], dtype=object))
    parts = parts[shapely.area(parts) > least_mm2]
    if not len(parts):
        return NOTHING
    if len(parts) > 1:
        parts = parts[np.lexsort(shapely.bounds(parts).T[::-1])]
    return shapely.multipolygons(parts)


def _touching(polygons: NDArray[np.object_]) -> bool:
    boxes = shapely.bounds(polygons)
    if len(boxes) == 2 and bool(((boxes[0, :2] > boxes[1, 2:]) | (boxes[1, :2] > boxes[0, 2:])).any()):
        return False
    lines = shapely.get_exterior_ring(polygons)
    tree = shapely.STRtree(lines)
    first, second = tree.query(lines, predicate="intersects")
    return bool(np.any(first != second))


def _nested(polygons: NDArray[np.object_], loops: list[Array], rule: Rule) -> MultiPolygon:
    """Rings that don't touch: each is wholly in or out of every other, so counting is enough."""
    tree = shapely.STRtree(polygons)
    spots = shapely.points([loop[0] for loop in loops])
    inner, outer = tree.query(spots, predicate="within")
    keep = inner != outer
    inner, outer = inner[keep], outer[keep]
    turn = np.where(shapely.is_ccw(shapely.get_exterior_ring(polygons)), 1, -1)
    around = np.zeros(len(polygons), dtype=np.int64)
    np.add.at(around, inner, turn[outer] if rule == "nonzero" else 1)
    inside = around + turn if rule == "nonzero" else around + 1
    paint_in = inside != 0 if rule == "nonzero" else inside % 2 == 1
    paint_out = around != 0 if rule == "nonzero" else around % 2 == 1
    shells = [i for i in range(len(polygons)) if paint_in[i] and not paint_out[i]]
    size = shapely.area(polygons)
    holes: dict[int, list[Array]] = {i: [] for i in shells}
    for i in np.flatnonzero(paint_out & ~paint_in):
        owners = [int(o) for o in outer[inner == i] if int(o) in holes]
        if owners:
            holes[min(owners, key=lambda o: (size[o], o))].append(loops[i])
    return MultiPolygon([Polygon(loops[i], holes[i]) for i in shells])


def _faces(loops: list[Array], rule: Rule) -> MultiPolygon:
    """Rings that cross: cut all lines at all crossings, keep the faces that the rule paints."""
    lines = [shapely.LineString(np.vstack([loop, loop[:1]])) for loop in loops]
    cut = overlay.union_all(lines, grid_size=GRID)
    faces = [f for f in shapely.get_parts(shapely.polygonize([cut])) if f.area > GRID * GRID]
    if not faces:
        return NOTHING
    spots = shapely.get_coordinates(shapely.point_on_surface(faces))
    winding = _windings(spots, loops)
    painted = winding != 0 if rule == "nonzero" else winding % 2 == 1
    kept = [face for face, paint in zip(faces, painted, strict=True) if paint]
    return whole(overlay.union_all(kept)) if kept else NOTHING


def _windings(spots: Array, loops: list[Array]) -> NDArray[np.int64]:
    """The winding number of every spot about all loops together: crossings of a ray to the right."""
    a = np.vstack(loops)
    b = np.vstack([np.roll(loop, -1, axis=0) for loop in loops])
    total = np.zeros(len(spots), dtype=np.int64)
    rows = max(1, MOST_CELLS // len(a))
    for start in range(0, len(spots), rows):
        x, y = spots[start : start + rows, :1], spots[start : start + rows, 1:]
        side = (b[:, 0] - a[:, 0]) * (y - a[:, 1]) - (x - a[:, 0]) * (b[:, 1] - a[:, 1])
        up = (a[:, 1] <= y) & (b[:, 1] > y) & (side > 0)
        down = (a[:, 1] > y) & (b[:, 1] <= y) & (side < 0)
        total[start : start + rows] = up.sum(axis=1) - down.sum(axis=1)
    return total
