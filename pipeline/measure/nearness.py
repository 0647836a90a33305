"""Which cells of a grid lie within a distance of others, and connected patches of cells.

Growing by a disc, exactly: the distance along its own row to the nearest given cell is known for every cell by
two running maxima; a cell is in reach if in some row dy away that distance is at most √(r² − dy²). That is a
few comparisons of small numbers a row, many times faster than a map of exact distances.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, sqrt

import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]

BAND = 64
"""Rows that are asked at a time: more fall out of the processor's cache, fewer cost more calls; same result."""


def grown(cells: Mask, reach: float) -> Mask:
    """The cells whose centres lie at most ``reach`` (in cells, below 100) from the centre of one of ``cells``."""
    rows = floor(reach)
    if reach < 1.0 or not cells.any():
        return cells.copy()
    bands = (cells[first : first + BAND] for first in range(0, len(cells), BAND))
    far = np.concatenate([np.minimum(_along_rows(band), 120).astype(np.int8) for band in bands])
    found = far <= rows
    for away in range(1, rows + 1):
        near = far <= floor(sqrt(reach * reach - away * away))
        found[away:] |= near[:-away]
        found[:-away] |= near[away:]
    return found


def _along_rows(cells: Mask) -> NDArray[np.int32]:
    """The distance, in cells along its row, from every cell to the nearest of ``cells``; large without any."""
    columns = np.arange(cells.shape[1], dtype=np.int32)
    before = np.maximum.accumulate(np.where(cells, columns, np.int32(-1000)), axis=1)
    after = np.minimum.accumulate(np.where(cells, columns, np.int32(2**30))[:, ::-1], axis=1)[:, ::-1]
    return np.asarray(np.minimum(columns - before, after - columns))


@dataclass(frozen=True, eq=False)
class Patch:
    """Cells that hang together: the ``rows`` and ``columns`` of them, ``length`` how far they stretch (in cells),
    and ``middle`` the row and column of one deep inside.

    The length is the number of cells over the mean width, which for a strip is four times its cells' mean
    distance from its edge: so a ring is as long as its circumference.
    """

    rows: NDArray[np.intp]
    columns: NDArray[np.intp]
    length: float
    middle: tuple[int, int]

    @property
    def cells(self) -> int:
        """How many."""
        return len(self.rows)


def patches(cells: Mask, most: int, least_cells: int = 1, join: float = 0.0) -> list[Patch]:
    """The ``most`` largest patches of ``cells``, largest first, then from the top.

    Cells that touch at corners hang together, and those with no more than twice ``join`` (in cells) between.
    """
    rows, columns = np.nonzero(cells)
    if len(rows) == 0:
        return []
    from scipy import ndimage  # takes longer to load than most designs need it

    rim = int(join) + 1
    top, left = int(rows.min()) - rim, int(columns.min()) - rim
    crop = np.zeros((int(rows.max()) + rim + 1 - top, int(columns.max()) + rim + 1 - left), dtype=np.bool_)
    crop[rows - top, columns - left] = True
    wide = grown(crop, join)
    labels, count = ndimage.label(wide, structure=np.ones((3, 3), dtype=np.int8))
    own = labels[rows - top, columns - left]
    sizes = np.bincount(own, minlength=count + 1)[1:]
    boxes = ndimage.find_objects(labels)
    found = []
    for k in np.argsort(-sizes, kind="stable")[:most].tolist():
        if sizes[k] >= least_cells:
            mine = own == k + 1
            length, row, column = _shape(labels[boxes[k]] == k + 1)
            middle = (row + boxes[k][0].start + top, column + boxes[k][1].start + left)
            found.append(Patch(rows[mine], columns[mine], max(1.0, length - 2.0 * int(join)), middle))
    return found


def _shape(cells: Mask) -> tuple[float, int, int]:
    """The length of a patch in cells, and the row and column of a cell deep inside near its middle."""
    from scipy import ndimage

    depth = ndimage.distance_transform_edt(np.pad(cells, 1))[1:-1, 1:-1]
    rows, columns = np.nonzero(cells)
    # A cell's centre lies half a cell farther in than its edge, and the outermost counts 1: half too much.
    width = 4.0 * max(float(depth[cells].mean()) - 0.5, 0.25)
    away = np.hypot(rows - rows.mean(), columns - columns.mean())
    best = int(np.argmax(depth[cells] - away / (away.max() + 1.0)))
    return len(rows) / width, int(rows[best]), int(columns[best])
