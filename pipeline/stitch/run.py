"""Run and triple run: a connected graph of lines sewn in one thread."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, Point

from pipeline.craft import Craft
from pipeline.errors import BrokenPromiseError
from pipeline.geometry.polyline import Array, at, ring
from pipeline.model import Block, Spot, Step, Strand, points
from pipeline.stitch.chords import Pace, paced, thinned
from pipeline.stitch.postman import Leg, walk
from pipeline.stitch.settings import RunSettings

RING_MM = 4.5
"""A round closed line up to this long is sewn with even stitches about as short as may be, their points a little
outside of it and the middles of their chords a little inside."""


NO_FOUNDATION = "no foundation, which a run does not need"


def lay_run(step: Step, settings: RunSettings, craft: Craft) -> Block:
    """The needle points of a ``run`` or ``triple run`` part: one strand of cover.

    All lines are sewn from the place nearest ``step.start`` to the one nearest ``step.end``, with as little as
    possible sewn twice. A triple run goes forward, back and forward over each stitch, spread over the width of
    the line, and once over a line that it has to take a second time. Lines that are shorter than ``dot_mm`` or
    keep that close together become a dot of a few stitches.
    """
    return Block(step, (Strand("cover", points(_needled(step, settings, craft))),), NO_FOUNDATION)


def _needled(step: Step, settings: RunSettings, craft: Craft) -> Array:
    part = step.part
    legs = walk(part.lines, step.start, step.end, craft.planned_mm)
    if not legs:
        raise BrokenPromiseError(f"part {part.id}: a {part.kind} without lines")
    whole = sum(float(np.hypot(*np.diff(leg.points, axis=0).T).sum()) for leg in legs if not leg.again)
    every = np.vstack([leg.points for leg in legs])
    spread = min(max((part.width_mm[1] - craft.thread_mm) / 2, 0.0), settings.spread_mm)
    spread *= part.kind == "triple run"
    if min(whole, float(np.hypot(*np.ptp(every, axis=0)))) < settings.dot_mm:
        return _dot(every, step, spread, craft)
    if part.kind == "run" and len(part.lines) == 1 and part.lines[0].closed and whole <= RING_MM:
        dots = _round(ring(part.lines[0].points), step.start, _pace(settings, craft))
        if dots is not None:
            return dots
    dots, rank, once = _stitched(legs, _pace(settings, craft))
    keep = thinned(dots, rank, craft.planned_mm)
    dots, once = dots[keep], once[keep]
    return _tripled(dots, once, spread, craft.planned_mm) if part.kind == "triple run" else dots


def _round(loop: Array, start: Spot, pace: Pace) -> Array | None:
    """Once round a small ring (``loop`` is closed) from its place nearest ``start``; None if it has a corner."""
    if paced(loop, pace)[1][1:-1].any():
        return None
    track = LineString(loop)
    begin, long = track.project(Point(start)), track.length
    middle = loop[:-1].mean(axis=0)
    for count in range(int(long / pace.shortest_mm) + 1, 3, -1):
        bulge = 2.0 / (1.0 + np.cos(np.pi / count))
        dots = middle + bulge * (at(loop, (begin + np.arange(count + 1) * (long / count)) % long) - middle)
        if np.hypot(*np.diff(dots, axis=0).T).min() >= pace.shortest_mm:
            return np.asarray(dots)
    return None


def _stitched(legs: list[Leg], pace: Pace) -> tuple[Array, NDArray[np.int_], NDArray[np.bool_]]:
    """The walk's needle points, their rank, and whether the stitch that leads there is on a line sewn before."""
    known = {leg.edge: paced(leg.points, pace) for leg in legs if not leg.again}
    flip = {leg.edge: leg.flipped for leg in legs if not leg.again}
    dots, rank, once = [legs[0].points[:1]], [np.array([2])], [np.array([False])]
    for number, leg in enumerate(legs):
        found, order = known[leg.edge]
        if leg.flipped != flip[leg.edge]:
            found, order = found[::-1], order[::-1]
        order = order.copy()
        turns = number + 1 == len(legs) or legs[number + 1].edge == leg.edge
        order[-1] = 2 if turns else 1
        dots.append(found[1:])
        rank.append(order[1:])
        once.append(np.full(len(found) - 1, leg.again))
    return np.vstack(dots), np.concatenate(rank), np.concatenate(once)


def _pace(settings: RunSettings, craft: Craft) -> Pace:
    return Pace(settings.stitch_mm, craft.planned_mm, settings.chord_mm, settings.corner_deg)


def _tripled(dots: Array, once: NDArray[np.bool_], spread_mm: float, shortest_mm: float) -> Array:
    """Every stitch forward, back, forward, except those marked ``once`` (at their end point).

    The first pass keeps ``spread_mm`` to one side of the stitch, the last to the other and the middle one
    crosses over: the line gets bold and the needle finds fresh holes. Sides change from stitch to stitch. On the
    inside of a tight bend what falls closer together than ``shortest_mm`` is left out.
    """
    step = np.diff(dots, axis=0)
    square = np.column_stack([-step[:, 1], step[:, 0]]) / np.hypot(*step.T)[:, None]
    triple = ~once[1:]
    side = np.where(np.cumsum(triple) % 2 == 1, spread_mm, -spread_mm)[:, None] * square
    a, b = dots[:-1], dots[1:]
    passes = np.stack([np.where(triple[:, None], b + side, b), a - side, b - side], axis=1)
    wanted = np.column_stack([np.ones(len(b), dtype=bool), triple, triple])
    first = a[:1] + side[:1] if triple[0] else a[:1]
    found = np.vstack([first, passes[wanted]])
    return found[thinned(found, np.zeros(len(found), dtype=int), shortest_mm)]


def _dot(line: Array, step: Step, spread_mm: float, craft: Craft) -> Array:
    """Two or three stitches the longest way across a tiny line; four where a bold dot is left from its start."""
    middle = (line.min(axis=0) + line.max(axis=0)) / 2
    far = line[np.argmax(np.hypot(*(line - middle).T))] - middle
    reach = float(np.hypot(*far))
    if reach < 1e-9:
        far, reach = np.array([1.0, 0.0]), 1.0
    ends = middle + np.outer([-1.0, 1.0], far / reach * max(reach, craft.shortest_mm / 2))
    first, last = (int(np.argmin(np.hypot(*(ends - spot).T))) for spot in (step.start, step.end))
    if first != last:
        return _tripled(ends[[first, last]], np.zeros(2, dtype=bool), spread_mm, craft.planned_mm)
    there_and_back: Array = ends[[first, 1 - first, first]]
    if step.part.kind == "run":
        return there_and_back
    return _tripled(there_and_back, np.array([False, False, True]), spread_mm, craft.planned_mm)
