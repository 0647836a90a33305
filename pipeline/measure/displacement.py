"""What stitches do to the fabric: pull and push, as places to which needle points move.

The model (simple, our own). *Pull*: a row or rung of cover, that is stitches that go on in about one direction,
draws its ends in along itself by the fabric's pull, times a factor that grows with its length up to 1. What
meets at a needle point adds up, and no point moves farther than the pull: ends of rows and rungs move in, the
points inside a row, held from both sides, stay. On a fabric with a grain (its yarns lie along x and y in the
hoop) rows on the bias draw in more: by the fabric's ``bias`` at 45°, between by sin² of twice the angle.
*Push*: what is drawn in along the rows is spread across them. The rows of a fill, and the
rungs of a stretch of column, move apart from their middle outwards, the outermost ones by a share of the pull.

Published distortion studies find the same: sewn widths are smaller than designed in every case, most on the bias
(Radavičienė and Jucienė, Fibres & Textiles in Eastern Europe 20(3), 2012). That columns grow at their ends
is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thread_path import COVER, Path, path
from pipeline.model import Fabric, Points, Sewing, points

Array = NDArray[np.float64]

LEAST_ROW_MM = 0.6
"""Shorter stretches between bends are turns and hair ends: no row of a push, though they pull as others do."""

STRAIGHT = 0.97
"""Share of a part's rows, by length, that point one way for it to spread as one: satin in a bend does not."""

STEP_MM = 1.0
"""PullRows farther apart than this are no neighbours: a new section begins."""


def displaced(table: Path, fabric: Fabric, settings: MeasureSettings) -> Points:
    """The needle points of ``table`` after pull and push, ``(n, 2)`` mm."""
    rows = _rows(table)
    return np.asarray(table.points + pull(table, rows, fabric, settings) + push(table, rows, fabric, settings))


def after_pull(sewing: Sewing, fabric: Fabric, settings: MeasureSettings) -> Sewing:
    """The sewing with its needle points where pull and push take them (no longer on the machine's grid)."""
    moved = displaced(path(sewing), fabric, settings)
    passes = [each for each in sewing.passes if len(each.points)]
    if not passes:
        return sewing
    ends = np.cumsum([len(each.points) for each in passes])[:-1]
    return replace(
        sewing,
        passes=tuple(
            replace(each, points=points(spots)) for each, spots in zip(passes, np.split(moved, ends), strict=True)
        ),
    )


@dataclass(frozen=True, eq=False)
class PullRows:
    """PullRows and rungs of a sewing: ``of`` ``(n,)`` the row of each point's stitch; for each row its ``way``
    ``(r, 2)`` from start to end in mm, its ``length_mm`` ``(r,)`` along the stitches, and ``cover``, whether it
    is one.
    """

    of: NDArray[np.intp]
    way: Array
    length_mm: Array
    cover: NDArray[np.bool_]

    def strength(self, fabric: Fabric, settings: MeasureSettings) -> Array:
        """The pull of each row as a share of the fabric's, ``(r,)``: by its length and direction."""
        size = np.hypot(self.way[:, 0], self.way[:, 1])
        x, y = (self.way / np.where(size > 0.0, size, 1.0)[:, None]).T
        slant = (2.0 * x * y) ** 2
        factor = np.minimum(1.0, self.length_mm / settings.full_pull_mm) * (1.0 + (fabric.bias - 1.0) * slant)
        return np.where(self.cover, factor, 0.0)


def _rows(table: Path) -> PullRows:
    """A row begins where the thread bends sharply, or where what came before is no cover."""
    cover = table.sewn & (table.layer == COVER)
    of = np.cumsum(~(table.straight_on & cover & np.concatenate([[False], cover[:-1]]))) - 1
    number = int(of[-1]) + 1 if len(of) else 0
    ways = np.where(cover[:, None], table.points - table.start, 0.0)
    way = np.column_stack([np.bincount(of, weights=ways[:, axis], minlength=number) for axis in (0, 1)])
    length = np.bincount(of, weights=np.where(cover, table.lengths, 0.0), minlength=number).astype(np.float64)
    return PullRows(of, way.astype(np.float64), length, length > 0.0)


def pull(table: Path, rows: PullRows, fabric: Fabric, settings: MeasureSettings) -> Array:
    """How far each needle point is drawn, ``(n, 2)`` mm."""
    strength = rows.strength(fabric, settings)[rows.of]
    lengths = table.lengths
    draw = (table.points - table.start) * (strength / np.where(lengths > 0.0, lengths, 1.0))[:, None]
    # A stitch draws its end back along itself and its start forward.
    sums, most = -draw, strength.copy()
    sums[:-1] += draw[1:]
    most[:-1] = np.maximum(most[:-1], strength[1:])
    size = np.hypot(sums[:, 0], sums[:, 1])
    return np.asarray(sums * (fabric.pull_mm * np.minimum(1.0, most / np.where(size > 0.0, size, 1.0)))[:, None])


def push(table: Path, rows: PullRows, fabric: Fabric, settings: MeasureSettings) -> Array:
    """How far each needle point is spread sideways, ``(n, 2)`` mm."""
    found = np.zeros((len(rows.way), 2))
    kept = np.flatnonzero(rows.cover & (np.hypot(*rows.way.T) >= LEAST_ROW_MM))
    if len(kept) < 2 or settings.push_share == 0.0:
        return np.zeros((len(rows.of), 2))
    ends = np.searchsorted(rows.of, kept, side="right") - 1
    middle, part = table.points[ends] - rows.way[kept] / 2.0, table.part[ends]
    across, along, section = _laid_out(rows.way[kept], middle, part)
    low, high = np.full(section.max() + 1, np.inf), np.full(section.max() + 1, -np.inf)
    np.minimum.at(low, section, along)
    np.maximum.at(high, section, along)
    reach = (high - low)[section]
    wide = reach > 1e-6
    # From -1 on one side of a section to 1 on the other, outwards.
    place = np.where(wide, 2.0 * (along - low[section]) / np.where(wide, reach, 1.0) - 1.0, 0.0)
    full = np.minimum(1.0, reach / (2.0 * settings.full_pull_mm))
    strength = rows.strength(fabric, settings)[kept] * fabric.pull_mm * settings.push_share
    found[kept] = across * (place * full * strength)[:, None]
    # A point that ends no row, a turn's or the very first, begins the next one and goes with it.
    owner = rows.of.copy()
    single = ~np.isin(owner, kept)
    owner[:-1] = np.where(single[:-1], rows.of[1:], owner[:-1])
    return np.asarray(found[owner])


def _across(way: Array) -> Array:
    """Unit vectors square to the rows, all to about the same side of those before them, ``(k, 2)``."""
    unit = way / np.hypot(way[:, 0], way[:, 1])[:, None]
    turned = np.einsum("ij,ij->i", unit[1:], unit[:-1]) < 0.0
    side = np.where(np.concatenate([[False], np.logical_xor.accumulate(turned)]), -1.0, 1.0)
    return np.asarray(np.column_stack([-unit[:, 1], unit[:, 0]]) * side[:, None])


def _laid_out(way: Array, middle: Array, part: NDArray[np.intp]) -> tuple[Array, Array, NDArray[np.intp]]:
    """For each row the unit vector across it, how far along that it lies, and the number of its section.

    A part with rows of one direction, a fill, is one section and spreads as a whole: its sections, moved one by
    one, would shear at their joints. In any other, rows that follow side by side make one.
    """
    across = _across(way)
    step = np.concatenate([[0.0], np.einsum("ij,ij->i", np.diff(middle, axis=0), (across[1:] + across[:-1]) / 2.0)])
    fresh = _fresh(part, step)
    along = np.cumsum(np.where(fresh, 0.0, step))
    section = np.cumsum(fresh) - 1
    size = np.hypot(way[:, 0], way[:, 1])
    # Doubled angles: there and back are one direction.
    double = np.column_stack([way[:, 0] ** 2 - way[:, 1] ** 2, 2.0 * way[:, 0] * way[:, 1]]) / size[:, None]
    sums = np.column_stack([np.bincount(part, weights=double[:, axis]) for axis in (0, 1)])
    level = np.hypot(sums[:, 0], sums[:, 1]) >= STRAIGHT * np.maximum(np.bincount(part, weights=size), 1e-9)
    turn = np.arctan2(sums[:, 1], sums[:, 0]) / 2.0
    square = np.column_stack([-np.sin(turn), np.cos(turn)])[part]
    straight = level[part]
    across = np.where(straight[:, None], square, across)
    along = np.where(straight, np.einsum("ij,ij->i", middle, square), along)
    return across, along, np.where(straight, section.max() + 1 + part, section)


def _fresh(part: NDArray[np.intp], step: Array) -> NDArray[np.bool_]:
    """Where a new section begins: another part, a step too wide, or back the other way, ``(k,)``."""
    other = np.concatenate([[True], part[1:] != part[:-1]])
    back = np.concatenate([[False], step[1:] * step[:-1] < 0.0])
    return np.asarray(other | back | (np.abs(step) > STEP_MM))
