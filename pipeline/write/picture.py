"""The sewn picture: every thread at its real width, in sewing order, on fabric, lit as ``light`` says."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from pipeline.colour import linear, rgb
from pipeline.geometry.raster import Grid, paint_segments
from pipeline.model import Plan
from pipeline.write.light import Lit, Pixels, encoded, sent_back
from pipeline.write.settings import WriteSettings

Array = NDArray[np.float64]

GROUNDS = {"natural": "#e6dfd0", "white": "#f7f7f4", "grey": "#8d9094", "navy": "#27304a"}
WEAVE_MM = 0.45
"""Distance of the ground's yarns."""

SHADE = 0.62
"""What the threads' shadow leaves of the ground's light."""

UNCUT_MM = 0.12
"""Width at which an uncut thread between two places is drawn: taut, so thin."""

LARGEST_PX = 4000
"""Longer side of the picture: very large artwork is drawn less finely, so that memory stays in bounds."""

BAND = 96
"""Rows of the picture that are drawn at a time: more take more memory, fewer draw long stitches more often."""


@dataclass(frozen=True, eq=False)
class _Threads:
    """What is drawn, in sewing order: ends ``(n, 2, 2)`` mm, the colour's index and whether sewn, for each."""

    ends: Array
    colours: NDArray[np.int64]
    sewn: NDArray[np.bool_]

    def widths(self, laid_mm: float) -> Array:
        """The width of each, mm."""
        return np.where(self.sewn, laid_mm, UNCUT_MM)


def picture_bytes(plan: Plan, settings: WriteSettings) -> bytes:
    """The sewn picture of ``plan`` as PNG: the viewport and every stitch, with a margin of fabric."""
    target = BytesIO()
    Image.fromarray(picture(plan, settings)).save(target, format="PNG", compress_level=1)
    return target.getvalue()


def picture(plan: Plan, settings: WriteSettings) -> NDArray[np.uint8]:
    """The sewn picture as ``(height, width, 3)`` sRGB, drawn band by band."""
    threads = _threads(plan)
    grid = _grid(plan, threads, settings)
    laid_mm = float(plan.settings["thread"]["laid_mm"])
    widths = threads.widths(laid_mm)
    lit = Lit.of(threads.ends, widths)
    own, sheen = sent_back(np.array([rgb(c) for c in plan.sewing.colours or ("#000000",)]))
    ground, detail = linear(rgb(GROUNDS[settings.ground])).astype(np.float32), settings.picture_detail
    shadow = max(1, round(laid_mm * 0.6 * grid.px_per_mm))
    extents = np.sort(threads.ends[:, :, 1], axis=1) + widths[:, None] * [-1.0, 1.0]
    bands = []
    for top in range(0, grid.height, BAND * detail):
        band = _band(grid, top, min(top + BAND * detail, grid.height))
        above = _band(grid, max(0, top - shadow), top)
        both = _band(grid, top - above.height, top + band.height)
        near = np.flatnonzero((extents[:, 1] > both.y0) & (extents[:, 0] < both.y0 + both.height / both.px_per_mm))
        owner = _owner(both, threads.ends[near], widths[near], near)
        bare = _bare(owner, above.height, shadow, detail)
        canvas: Pixels = ground[:, None, None] * (_weave(band, top, detail) * bare)
        for seen in _seen(owner[above.height :], detail):
            down, across = np.divmod(seen.place, canvas.shape[2])
            x = ((across + seen.right) / grid.px_per_mm * detail + band.x0).astype(np.float32)
            y = ((down + seen.down) / grid.px_per_mm * detail + band.y0).astype(np.float32)
            matt, gloss = lit.shade(seen.thread, x, y)
            colour = threads.colours[seen.thread]
            matt *= seen.share
            gloss *= seen.share
            for channel, light in enumerate(canvas.reshape(3, -1)):  # many times faster than three at a place
                light[seen.place] += own[:, channel][colour] * matt + sheen[:, channel][colour] * gloss
        bands.append(np.moveaxis(encoded(canvas), 0, -1))
    return np.vstack(bands)


@dataclass(frozen=True, eq=False)
class _Seen:
    """One thread in each of some picture elements ``place``: its share of the element, and the middle of what shows
    of it, 0 … 1 from the element's left and upper side. Light is reckoned there, once for all its cells."""

    place: NDArray[np.intp]
    thread: NDArray[np.int32]
    share: Pixels
    right: Pixels
    down: Pixels


def _seen(owner: NDArray[np.int32], detail: int) -> Iterator[_Seen]:
    """All threads of all picture elements: first those of their first cells, then what else shows in them."""
    cells = [owner[row::detail, column::detail].ravel() for row in range(detail) for column in range(detail)]
    new = [cell >= 0 for cell in cells]
    for first, cell in enumerate(cells):
        place = np.flatnonzero(new[first])
        thread = cell[place]
        middle = np.zeros((3, len(place)), np.float32)
        for number in range(first, len(cells)):
            same = cells[number][place] == thread
            new[number][place[same]] = False
            row, column = divmod(number, detail)
            middle += np.array([[1.0], [column + 0.5], [row + 0.5]], np.float32) * same
        count, right, down = middle
        across = count * np.float32(detail)
        yield _Seen(place, thread, count / np.float32(detail**2), right / across, down / across)


def _band(grid: Grid, top: int, bottom: int) -> Grid:
    """The rows of a grid from ``top`` to before ``bottom``."""
    return replace(grid, y0=grid.y0 + top / grid.px_per_mm, height=bottom - top)


def _threads(plan: Plan) -> _Threads:
    """Every sewn stitch and every uncut thread between two places."""
    ends, colours, sewn = [np.empty((0, 2, 2))], [np.empty(0, np.int64)], [np.empty(0, np.bool_)]
    last = None
    for step in plan.sewing.passes:
        line, kind = step.points, np.ones(len(step.points) - 1, np.bool_)
        if last is not None and step.approach in ("sewn", "jump"):
            line = np.vstack([last, line])
            kind = np.concatenate([[step.approach == "sewn"], kind])
        ends.append(np.stack([line[:-1], line[1:]], axis=1))
        colours.append(np.full(len(line) - 1, step.thread, np.int64))
        sewn.append(kind)
        last = step.points[-1:]
    return _Threads(np.concatenate(ends), np.concatenate(colours), np.concatenate(sewn))


def _grid(plan: Plan, threads: _Threads, settings: WriteSettings) -> Grid:
    """Whole picture elements of ``picture_detail`` cells a side around the viewport and all threads."""
    viewport = np.array([[0.0, 0.0], [plan.source.width_mm, plan.source.height_mm]])
    spots = np.vstack([threads.ends.reshape(-1, 2), viewport])
    left, top, right, bottom = (float(v) for v in (*spots.min(axis=0), *spots.max(axis=0)))
    margin, detail = settings.picture_margin_mm, settings.picture_detail
    fineness = min(settings.picture_px_per_mm, LARGEST_PX / (max(right - left, bottom - top) + 2 * margin))
    coarse = Grid.around((left, top, right, bottom), fineness, margin)
    return Grid(coarse.x0, coarse.y0, fineness * detail, coarse.width * detail, coarse.height * detail)


def _owner(grid: Grid, ends: Array, widths: Array, numbers: NDArray[np.intp]) -> NDArray[np.int32]:
    """The one of ``numbers`` whose thread is on top in every cell, -1 for none; runs of one width go together."""
    owner: NDArray[np.int32] = grid.full(-1, np.int32)
    changes = np.flatnonzero(np.diff(widths)) + 1
    for run in np.split(np.arange(len(ends)), changes):
        if len(run):
            paint_segments(grid, ends[run], float(widths[run[0]]), numbers[run], owner)
    return owner


def _weave(grid: Grid, top: int, detail: int) -> Pixels:
    """How light each picture element of the bare ground is: plain weave; ``top`` rows of cells lie above."""
    x, y = (
        np.cos((np.arange(first, first + size, detail) + detail / 2) / grid.px_per_mm * (2.0 * np.pi / WEAVE_MM))
        for first, size in ((0, grid.width), (top, grid.height))
    )
    return np.asarray(0.94 + 0.05 * y[:, None] * x[None, :], dtype=np.float32)


def _bare(owner: NDArray[np.int32], above: int, reach: int, detail: int) -> Pixels:
    """The share of the ground's light that each picture element shows: none under threads, ``SHADE`` to the right
    of and below them, as far as ``reach`` cells. The first ``above`` rows only cast shadow."""
    thread = owner >= 0
    shade = np.zeros_like(thread)
    for shift in range(1, reach + 1):
        shade[shift:, shift:] |= thread[:-shift, :-shift]
    light = np.where(thread, np.float32(0.0), np.where(shade, np.float32(SHADE), np.float32(1.0)))[above:]
    total: Pixels = np.add.reduce([light[row::detail, c::detail] for row in range(detail) for c in range(detail)])
    return total / np.float32(detail * detail)
