"""The sewn picture: every thread at its real width, in sewing order, on fabric, lit as ``light`` says."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from pipeline.geometry.raster import Grid, paint_segments
from pipeline.model import Plan
from pipeline.write.light import Lit, Pixels, encoded, linear, sent_back
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

BAND = 32
"""Rows of the picture that are lit at a time: few enough to stay in the processor's cache."""


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
    Image.fromarray(picture(plan, settings)).save(target, format="PNG", compress_level=4)
    return target.getvalue()


def picture(plan: Plan, settings: WriteSettings) -> NDArray[np.uint8]:
    """The sewn picture as ``(height, width, 3)`` sRGB."""
    threads = _threads(plan)
    grid = _grid(plan, threads, settings)
    laid_mm = float(plan.settings["thread"]["laid_mm"])
    owner = _owner(grid, threads, laid_mm)
    lit = Lit.of(threads.ends, threads.widths(laid_mm))
    own, sheen = sent_back(np.array([_rgb(c) for c in plan.sewing.colours] or [(0, 0, 0)]))
    height = BAND * settings.picture_detail
    bands = []
    for top in range(0, grid.height, height):
        rows = slice(top, min(top + height, grid.height))
        canvas = _ground(grid, rows, settings.ground)
        _shadow(grid, rows, owner, laid_mm, canvas)
        place = np.flatnonzero(owner[rows] >= 0)
        which = owner[rows].reshape(-1)[place]
        down, across = np.divmod(place, grid.width)
        x = ((across + 0.5) / grid.px_per_mm + grid.x0).astype(np.float32)
        y = ((down + (top + 0.5)) / grid.px_per_mm + grid.y0).astype(np.float32)
        matt, gloss = lit.shade(which, x, y)
        colour = threads.colours[which]
        canvas.reshape(-1, 3)[place] = own[colour] * matt[:, None] + sheen[colour] * gloss[:, None]
        bands.append(encoded(_coarser(canvas, settings.picture_detail)))
    return np.vstack(bands)


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


def _owner(grid: Grid, threads: _Threads, laid_mm: float) -> NDArray[np.int32]:
    """The number of the thread on top in every cell, -1 for none; runs of one width are stamped together."""
    owner: NDArray[np.int32] = grid.full(-1, np.int32)
    widths = threads.widths(laid_mm)
    changes = np.flatnonzero(np.diff(widths)) + 1
    for run in np.split(np.arange(len(widths)), changes):
        if len(run):
            paint_segments(grid, threads.ends[run], float(widths[run[0]]), run, owner)
    return owner


def _ground(grid: Grid, rows: slice, ground: str) -> Pixels:
    """Plain weave in the ground's colour, in linear light."""
    x = (np.arange(grid.width) + 0.5) / grid.px_per_mm * (2.0 * np.pi / WEAVE_MM)
    y = (np.arange(rows.start, rows.stop) + 0.5) / grid.px_per_mm * (2.0 * np.pi / WEAVE_MM)
    weave = (0.94 + 0.05 * np.cos(y)[:, None] * np.cos(x)[None, :]).astype(np.float32)
    found: Pixels = weave[:, :, None] * linear(np.array(_rgb(GROUNDS[ground])))
    return found


def _shadow(grid: Grid, rows: slice, owner: NDArray[np.int32], laid_mm: float, canvas: Pixels) -> None:
    """Darken the ground to the right of and below threads, as far as half a thread is high."""
    step = max(1, round(laid_mm * 0.6 * grid.px_per_mm))
    first = max(0, rows.start - step)
    thread = owner[first : rows.stop] >= 0
    shade = np.zeros_like(thread)
    for shift in range(1, step + 1):
        shade[shift:, shift:] |= thread[: len(thread) - shift, : grid.width - shift]
    canvas[(shade & ~thread)[rows.start - first :]] *= np.float32(SHADE)


def _coarser(canvas: Pixels, detail: int) -> Pixels:
    """The mean of every ``detail`` × ``detail`` cells."""
    wide = np.add.reduce([canvas[row::detail] for row in range(detail)])
    total: Pixels = np.add.reduce([wide[:, column::detail] for column in range(detail)])
    return total / np.float32(detail * detail)


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
