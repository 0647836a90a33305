"""Sewn alphabets as PNG sheets: ``python tests/bench/alphabet.py FOLDER [FONT[,FONT]] [CAP_MM[,CAP_MM]]``.

The letter in grey; cover in blue (satin), orange (triple run), red (run), green (tatami), thread as wide as it
lies; uncovered letter in magenta; needle points black. All fonts at 8 and 15 mm unless told otherwise.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from letters import JUDGING, TUNING, glyphs
from narrow_judge import NEAR_MM, THREAD_MM, Sewn, filled, sew
from numpy.typing import NDArray
from PIL import Image

from pipeline.geometry.raster import Grid, paint_segments

COLOURS = {"satin": (70, 110, 190), "triple run": (230, 140, 30), "run": (210, 50, 50), "tatami": (70, 150, 80)}
GAP_MM = 1.0
COLUMNS = 10
TILE_PX = 150


def main() -> None:
    """Draw and say where."""
    folder = Path(sys.argv[1])
    fonts = sys.argv[2].split(",") if len(sys.argv) > 2 else list(TUNING | JUDGING)
    sizes = [float(size) for size in sys.argv[3].split(",")] if len(sys.argv) > 3 else [8.0, 15.0]
    folder.mkdir(parents=True, exist_ok=True)
    for font in fonts:
        for size in sizes:
            path = folder / f"{font.replace(' ', '-').lower()}-{size:g}.png"
            Image.fromarray(sheet(font, size)).save(path)
            print(path)


def sheet(font: str, cap_mm: float) -> NDArray[np.uint8]:
    """A whole alphabet, ``(h, w, 3)``."""
    px = TILE_PX / cap_mm
    tiles = [tile(sew(area), px) for _, area in glyphs(font, cap_mm)]
    rows = [tiles[k : k + COLUMNS] for k in range(0, len(tiles), COLUMNS)]
    return stacked([stacked(row, 1) for row in rows], 0)


def tile(sewn: Sewn, px: float) -> NDArray[np.uint8]:
    """One shape, ``(h, w, 3)``."""
    grid = Grid.around(sewn.area.bounds, px, GAP_MM)
    inside = filled(grid, sewn.area)
    picture = np.full((*inside.shape, 3), 255, dtype=np.uint8)
    picture[inside] = 200
    near = grid.full(0, np.uint8)
    kinds = {part.id: part.kind for part in sewn.parts}
    here = np.zeros((0, 2))
    for passed in sewn.sewing.passes:
        line = np.vstack([here if passed.approach == "sewn" else here[:0], passed.points])
        here = passed.points[-1:]
        if passed.layer != "cover" or len(line) < 2:
            continue
        stitches = np.stack([line[:-1], line[1:]], axis=1)
        body, thin = grid.full(0, np.uint8), grid.full(0, np.uint8)
        paint_segments(grid, stitches, THREAD_MM, 1, body)
        paint_segments(grid, stitches, 1.2 / px, 1, thin)
        paint_segments(grid, stitches, THREAD_MM + 2 * NEAR_MM, 1, near)
        colour = np.array(COLOURS[kinds[passed.part]], dtype=float)
        picture[body > 0] = (0.45 * colour + 140).astype(np.uint8)
        picture[thin > 0] = colour.astype(np.uint8)
        dots = grid.full(0, np.uint8)
        paint_segments(grid, np.stack([passed.points, passed.points], axis=1), 2.0 / px, 1, dots)
        picture[dots > 0] = 0
    picture[inside & (near == 0)] = (255, 0, 255)
    return picture


def stacked(pictures: list[NDArray[np.uint8]], axis: int) -> NDArray[np.uint8]:
    """Pictures in a row (axis 1) or a column (axis 0), aligned at the lower or left edge."""
    size = max(p.shape[1 - axis] for p in pictures)
    grown = []
    for p in pictures:
        more = size - p.shape[1 - axis]
        pads = [(more, 0), (0, 0), (0, 0)] if axis == 1 else [(0, 0), (0, more), (0, 0)]
        grown.append(np.pad(p, pads, constant_values=255))
    return np.concatenate(grown, axis=axis)


if __name__ == "__main__":
    main()
