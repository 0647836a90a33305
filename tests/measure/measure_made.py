"""Small sewings whose figures are known."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon, box

from pipeline.model import Approach, Fabric, Layer, Machine, Pass, Region, Sewing, Thread, points

FABRIC = Fabric("woven", 0.2, 0.20, 0.40, "edge and rows", "tear-away", 1.0)
THREAD = Thread("polyester 40", 27.0, 0.25, "75/11")
MACHINE = Machine("one head", 200.0, 100.0, 2, 800.0, 6.0, 12.0)

Array = NDArray[np.float64]


def rows(
    left: float,
    top: float,
    right: float,
    bottom: float,
    stitch_mm: float = 4.0,
    row_mm: float = 0.2,
    fanned: bool = False,
) -> Array:
    """Needle points of a rectangle filled with level rows, brick offset.

    Rows end with a short stitch to the next row, square to both, so that the cover is exactly the rectangle; or, as
    they are sewn, in one needle point from which the next row fans out.
    """
    found: list[tuple[float, float]] = [(left, top)] if fanned else []
    for number, y in enumerate(np.arange(top + row_mm / 2.0, bottom, row_mm)):
        inner = np.arange(left + (number % 4 + 0.5) * stitch_mm / 4.0, right - 0.3, stitch_mm)
        row = [(x, y) for x in inner[inner > left + 0.3]]
        there = number % 2 == 0
        if fanned:
            found += row if there else row[::-1]
            found.append((right if there else left, y + row_mm / 2.0))
        else:
            found += [(left, y), *row, (right, y)][:: 1 if there else -1]
    return np.round(np.array(found), 6)


def one_pass(
    spots: object,
    layer: Layer = "cover",
    approach: Approach = "colour",
    thread: int = 0,
    part: str = "r1.1",
) -> Pass:
    return Pass(thread, part.split(".")[0], part, layer, approach, points(spots))


def sewing(*passes: Pass, colours: tuple[str, ...] = ("#c81e1e", "#1e3cc8", "#1ec83c")) -> Sewing:
    used = max((each.thread for each in passes), default=-1) + 1
    return Sewing((0.0, 0.0), colours[:used], tuple(passes))


def region(area: Polygon, colour: str = "#c81e1e", id_: str = "r1", visible: object = None) -> Region:
    shown = MultiPolygon([area]) if visible is None else visible
    assert isinstance(shown, MultiPolygon)
    return Region(id_, f"svg/{id_}", None, int(id_[1:]) - 1, colour, MultiPolygon([area]), shown)


def square(left: float, top: float, side: float) -> Polygon:
    return box(left, top, left + side, top + side)
