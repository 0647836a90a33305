"""Satin: a column's foundation, the hidden way to its beginning, and the zig-zag that covers both."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from pipeline.craft import Craft
from pipeline.errors import BrokenPromiseError
from pipeline.geometry.offset import moved
from pipeline.geometry.polyline import Array, counted, divided, numbered
from pipeline.model import Block, Column, Step, Strand, points
from pipeline.stitch.beneath import Bed, Lead, beds, way_through, why_beds
from pipeline.stitch.chords import Pace, paced, thinned
from pipeline.stitch.rungs import Ladder, ladder, ring_zigzag, zigzag
from pipeline.stitch.settings import RunSettings, SatinSettings

NEAR_MM = 1.0
"""The thread leaves a column from its end when ``end`` is no farther than this from it; otherwise the cover is
sewn in two halves that meet there, which costs a hidden travel."""
HIDE_MM = 0.4
"""Travel stops so far inside a wide end, so that it does not peep out."""
SPARE_MM = 0.1
"""Crossings that compensation makes longer stay this much below the longest, for a crossing also moves on."""
CROWD_MM = 0.5
"""Hidden points nearer than this crowd each other."""
FIXED = 3
"""Rank of needle points that stay whatever comes near them."""


def lay_satin(step: Step, settings: SatinSettings, run: RunSettings, craft: Craft) -> Block:
    """The needle points of a satin part, from ``step.start`` to ``step.end``.

    Travel and foundation come first and lie under the cover; foundation only where the middle of a rung lies
    in ``part.bare``, clear of other cover. Ends narrower than ``tip_mm`` are sewn as a run to the tip and back.
    """
    column = step.part.column
    if column is None:
        raise BrokenPromiseError(f"part {step.part.id}: satin without a column")
    if column.closed and len(column.left) > 2:
        moves, under = _round(column, step, settings, craft)
    else:
        moves, under = _along(column, step, settings, craft)
    return Block(
        step, _strands(moves, step, settings, run, craft), why_beds(step.part, under, settings, craft.foundation)
    )


@dataclass(frozen=True)
class _Body:
    """The stretch of a column that is wide enough for satin, and which of its ends go on as a tip."""

    low: float
    high: float
    tip_low: bool
    tip_high: bool


Laid = tuple[list[Lead], list[Bed]]
"""The moves of a column, and the foundation among them."""


def _along(column: Column, step: Step, settings: SatinSettings, craft: Craft) -> Laid:
    """The moves of an open column, turned so that the cover ends at the end nearer to ``step.end``."""
    rungs = ladder(column, craft.pull_mm, settings.pull_share, craft.longest_mm - SPARE_MM)
    goal = rungs.nearest(step.end)
    if goal < rungs.total - goal:
        rungs, goal = rungs.turned(), rungs.total - goal
    start = rungs.nearest(step.start)
    body = _body(rungs, settings, craft.pitch_mm)
    if body is None:
        return _as_run(rungs, start, goal), []
    under = _beds(rungs, step, settings, craft)
    hidden = body.low if body.tip_low else min(body.low + HIDE_MM, rungs.total / 2)
    moves = way_through(rungs, under, start, hidden, settings)
    if body.tip_low:
        moves += _tip(rungs, body.low, 0.0, craft)
    end = np.array(step.end)
    if rungs.total - goal <= NEAR_MM or rungs.total < 4 * NEAR_MM:
        cover = zigzag(rungs, body.low, body.high, end, settings, craft)
        moves.append(Lead(cover, "cover", exact=True))
        if body.tip_high:
            moves += _tip(rungs, body.high, rungs.total, craft)
            moves.append(Lead(rungs.line(body.high, max(goal, body.high), 0, 0.0), "cover"))
        return moves, under
    return moves + _two_halves(rungs, body, goal, end, settings, craft), under


def _beds(rungs: Ladder, step: Step, settings: SatinSettings, craft: Craft) -> list[Bed]:
    """The stretches that get foundation: on bare fabric, off the cover beside it, and wide enough."""
    widest = float(np.hypot(*(rungs.right - rungs.left).T).max())
    if step.part.foundation.is_empty or widest < settings.centre_from_mm:
        return []
    return beds(rungs, moved(step.part.bare, -craft.foundation.clear_mm), settings, craft.foundation)


def _two_halves(
    rungs: Ladder, body: _Body, goal: float, end: Array, settings: SatinSettings, craft: Craft
) -> list[Lead]:
    """Cover that ends at ``goal`` amid the column: up to there, hidden on to the far end, and back to it."""
    pitch_mm = craft.pitch_mm
    goal = min(max(goal, body.low + pitch_mm), body.high - pitch_mm)
    moves = [Lead(zigzag(rungs, body.low, goal, end, settings, craft), "cover", exact=True)]
    hidden = body.high if body.tip_high else max(goal, body.high - HIDE_MM)
    moves.append(Lead(rungs.line(goal, hidden, 0, 0.0), "travel"))
    if body.tip_high:
        moves += _tip(rungs, body.high, rungs.total, craft)
    second = zigzag(rungs.turned(), rungs.total - body.high, rungs.total - goal, end, settings, craft)
    return [*moves, Lead(second, "cover", exact=True)]


def _round(column: Column, step: Step, settings: SatinSettings, craft: Craft) -> Laid:
    """The moves of a closed column: its seam lies at ``step.end``."""
    rungs = ladder(column, craft.pull_mm, settings.pull_share, craft.longest_mm - SPARE_MM)
    begun = rungs.begun_at(rungs.nearest(step.end))
    rungs = ladder(begun, craft.pull_mm, settings.pull_share, craft.longest_mm - SPARE_MM)
    start = rungs.nearest(step.start)
    if start > rungs.total / 2:
        start -= rungs.total
    under = _beds(rungs, step, settings, craft)
    moves = way_through(rungs, under, start, 0.0, settings)
    cover = ring_zigzag(rungs, np.array(step.end), settings, craft)
    return [*moves, Lead(cover, "cover", exact=True)], under


def _body(rungs: Ladder, settings: SatinSettings, pitch_mm: float) -> _Body | None:
    """Where satin can be sewn; None where the whole column is narrower than ``tip_mm``.

    Wide ends are drawn in by ``end_inset_mm``.
    """
    places = np.unique(np.concatenate([rungs.along, np.linspace(0, rungs.total, int(rungs.total / 0.1) + 2)]))
    left, right = rungs.rails(places)
    wide = np.flatnonzero(np.hypot(*(right - left).T) >= settings.tip_mm)
    if not len(wide):
        return None
    tip_low, tip_high = bool(wide[0] > 0), bool(wide[-1] < len(places) - 1)
    inset = min(settings.end_inset_mm, rungs.total / 4)
    low = places[wide[0]] if tip_low else inset
    high = places[wide[-1]] if tip_high else rungs.total - inset
    if high - low < pitch_mm:
        middle = (low + high) / 2
        low, high = max(0.0, middle - pitch_mm / 2), min(rungs.total, middle + pitch_mm / 2)
    return _Body(float(low), float(high), tip_low, tip_high)


def _tip(rungs: Ladder, base: float, tip: float, craft: Craft) -> list[Lead]:
    """A run from the satin's narrow end out to the tip and back, half a thread inside either edge."""
    return [
        Lead(rungs.line(a, b, side, craft.thread_mm / 2), "cover")
        for a, b, side in ((base, tip, -1), (tip, base, 1))
    ]


def _as_run(rungs: Ladder, start: float, goal: float) -> list[Lead]:
    """A column too narrow for satin: its middle line, to the far end and back to where the thread leaves."""
    ways = [(start, 0.0), (0.0, rungs.total), (rungs.total, goal)]
    return [Lead(rungs.line(a, b, 0, 0.0), "cover") for a, b in ways]


def _strands(
    moves: list[Lead], step: Step, settings: SatinSettings, run: RunSettings, craft: Craft
) -> tuple[Strand, ...]:
    """The moves as needle points, none too close to the next, grouped by layer."""
    if not moves:
        raise BrokenPromiseError(f"part {step.part.id}: nothing to sew")
    needled = [_needled(move, settings, run, craft) for move in moves]
    dots = np.vstack([[step.start], *(found for found, _ in needled), [step.end]])
    rank = np.concatenate([[2], *(order for _, order in needled), [2]])
    number = np.repeat(np.arange(len(moves)), [len(found) for found, _ in needled])
    number = np.concatenate([[0], number, [len(moves) - 1]])
    keep = thinned(dots, rank, craft.planned_mm, FIXED)
    hidden = np.array([move.layer != "cover" for move in moves])[number]
    keep = keep[_uncrowded(dots[keep], hidden[keep], settings.hidden_crowd)]
    dots, number = _bridged(dots[keep], number[keep], moves, settings.zigzag_stitch_mm, craft.longest_mm)
    layer = np.array([move.layer for move in moves])[number]
    cuts = np.flatnonzero(layer[1:] != layer[:-1]) + 1
    return tuple(
        Strand(moves[number[piece[0]]].layer, points(dots[piece])) for piece in np.split(np.arange(len(dots)), cuts)
    )


def _uncrowded(dots: Array, hidden: NDArray[np.bool_], most: int) -> NDArray[np.int_]:
    """Indices of the points to keep so that a hidden one has at most ``most`` earlier hidden ones within half a mm.

    On the inside of an acute bend foundation comes by several times. Sequential by nature, but only over points
    that are crowded at first. The first and the last point stay.
    """
    keep = np.ones(len(dots), dtype=np.bool_)
    number = np.flatnonzero(hidden)
    number = number[(number > 0) & (number < len(dots) - 1)]
    if len(number) <= most:
        return np.arange(len(dots))
    near = cKDTree(dots[number]).query_ball_point(dots[number], CROWD_MM)
    for k, others in enumerate(near):
        if len(others) > most:
            keep[number[k]] = sum(other < k and bool(keep[number[other]]) for other in others) <= most
    return np.flatnonzero(keep)


def _bridged(
    dots: Array, number: NDArray[np.int_], moves: list[Lead], hidden_mm: float, longest_mm: float
) -> tuple[Array, NDArray[np.int_]]:
    """Points and their move's number, with points in stitches from move to move that are too long.

    A stitch that comes from a hidden move is hidden itself.
    """
    hidden = np.array([move.layer != "cover" for move in moves])[number[:-1]]
    limit = np.where(hidden, hidden_mm, longest_mm)
    counts = counted(dots, limit)
    return divided(dots, counts), np.concatenate([number[numbered(counts)[0]], number[-1:]])


def _needled(move: Lead, settings: SatinSettings, run: RunSettings, craft: Craft) -> tuple[Array, NDArray[np.int_]]:
    """A move's needle points and their rank."""
    if move.exact:
        rank = FIXED if move.layer == "cover" else 1
        return move.line, np.full(len(move.line), rank)
    if move.layer == "cover":
        pace = Pace(run.stitch_mm, craft.planned_mm, run.chord_mm, run.corner_deg)
    else:
        stitch = settings.travel_stitch_mm if move.layer == "travel" else craft.foundation.edge_stitch_mm
        pace = Pace(stitch, craft.planned_mm, settings.hidden_chord_mm, run.corner_deg)
    found, order = paced(move.line, pace)
    if move.layer == "cover":
        order = order.copy()
        order[-1] = 2
    return found, order
