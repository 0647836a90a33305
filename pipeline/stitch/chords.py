"""Needle points along a line: even, on its corners, and close to it between them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.polyline import Array, aside, at, stations, without_repeats

SAMPLE_MM = 0.1
"""A bend is measured in these steps: finer costs time, coarser misses bends under about 0.3 mm radius."""
KINK_DEG = 12.0
"""A turn between straight segments that a chord may cut; the vertices of flattened curves turn by less, or lie
closer together."""
SMOOTH_MM = 0.5
"""Bends are averaged over this length, so that the vertices of a flattened curve do not draw stitches to them."""


@dataclass(frozen=True)
class Pace:
    """Longest and shortest stitch, how far a chord may stray (mm), and the turn (degrees) that gets a point."""

    stitch_mm: float
    shortest_mm: float
    chord_mm: float
    corner_deg: float = 45.0


def paced(line: Array, pace: Pace) -> tuple[Array, NDArray[np.int_]]:
    """Needle points along ``line`` (both ends included) and their rank: 1 at ends and corners, 0 between.

    Stitches are at most ``stitch_mm`` and, unless a whole span between two corners is shorter, at least
    ``shortest_mm``; between these the line is followed to within ``chord_mm``.
    """
    line = without_repeats(line, 1e-6)
    if len(line) < 2:
        return line, np.ones(len(line), dtype=int)
    bounds = np.concatenate([[0], _corners(line, pace), [len(line) - 1]])
    spans = [_span(line[a : b + 1], pace) for a, b in pairwise(bounds.tolist())]
    found = np.vstack([line[:1], *(span[1:] for span in spans)])
    rank = np.zeros(len(found), dtype=int)
    rank[np.cumsum([0, *(len(span) - 1 for span in spans)])] = 1
    return found, rank


def _corners(line: Array, pace: Pace) -> NDArray[np.int_]:
    """Indices of the inner vertices where the line turns by at least ``corner_deg``, or by ``KINK_DEG`` between
    two segments that are long enough for stitches of their own."""
    step = np.diff(line, axis=0)
    long = np.hypot(*step.T) >= 2 * pace.shortest_mm
    a, b = step[:-1], step[1:]
    turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    kink = long[:-1] & long[1:] & (np.abs(turn) >= np.radians(KINK_DEG))
    return np.flatnonzero(kink | (np.abs(turn) >= np.radians(pace.corner_deg))) + 1


def _span(line: Array, pace: Pace) -> Array:
    """Needle points of a stretch without corners, closer together where it bends more."""
    along = stations(line)
    total = float(along[-1])
    plain = max(1, int(np.ceil(total / pace.stitch_mm - 1e-9)))
    even = np.linspace(0.0, total, plain + 1)
    if len(line) == 2 or _stray(line, even[[0, -1]]) <= 1e-3:
        return at(line, even)
    fine = np.linspace(0.0, total, max(9, int(total / SAMPLE_MM) + 1))
    limit = _reach(at(line, fine), fine, pace)
    need = np.concatenate([[0.0], np.cumsum(np.diff(fine) * 2 / (limit[1:] + limit[:-1]))])
    most = max(plain, int(total / pace.shortest_mm))
    count = min(most, max(plain, int(np.ceil(need[-1] - 1e-9))))
    while True:
        places = np.interp(np.linspace(0.0, need[-1], count + 1), need, fine)
        even_enough = np.diff(places).max() <= pace.stitch_mm
        if count >= most or (even_enough and _stray(line, places) <= pace.chord_mm):
            return at(line, places)
        count += max(1, count // 12)


def _reach(dots: Array, along: Array, pace: Pace) -> Array:
    """How long a stitch may be at every sample: a chord of length l over a bend of radius r strays l² / 8r."""
    step = np.diff(dots, axis=0)
    heading = np.unwrap(np.arctan2(step[:, 1], step[:, 0]))
    wide = max(1, round(SMOOTH_MM / 2 / (along[1] - along[0])))
    index = np.arange(len(dots))
    ahead = np.minimum(index + wide, len(heading) - 1)
    behind = np.clip(index - 1 - wide, 0, None)
    bend = np.abs(heading[ahead] - heading[behind]) / np.maximum((ahead - behind) * (along[1] - along[0]), 1e-9)
    reach: Array = np.sqrt(8 * 0.9 * pace.chord_mm / np.maximum(bend, 1e-9))
    return reach.clip(min(pace.shortest_mm, pace.stitch_mm), pace.stitch_mm)


def _stray(line: Array, places: Array) -> float:
    """The greatest distance of the line's vertices from the chords between ``places``."""
    along = stations(line)
    dots = at(line, places)
    chord = np.clip(np.searchsorted(places, along, side="right") - 1, 0, len(places) - 2)
    return float(aside(line, dots[chord], dots[chord + 1]).max())


def thinned(dots: Array, rank: NDArray[np.int_], least_mm: float, fixed: int = 3) -> NDArray[np.int_]:
    """Indices of the points to keep so that neighbours are ``least_mm`` apart.

    Of two that are closer the one of lower rank goes (of equals the later, but never the last); two of rank
    ``fixed`` both stay. The first and the last point go only beside a fixed one.
    """
    keep = np.arange(len(dots))
    rank = rank.copy()
    while len(keep) > 2:
        step = np.hypot(*np.diff(dots[keep], axis=0).T)
        order = rank[keep]
        close = (step < least_mm) & ~((order[:-1] >= fixed) & (order[1:] >= fixed))
        number = np.arange(len(close))
        begins = np.where(close & ~np.concatenate([[False], close[:-1]]), number, 0)
        first = np.flatnonzero(close & ((number - np.maximum.accumulate(begins)) % 2 == 0))
        if not len(first):
            break
        later = order[first + 1] <= order[first]
        later[(first + 2 == len(keep)) & (order[first] < fixed)] = False
        later[(first == 0) & (order[first + 1] < fixed)] = True
        keep = np.delete(keep, np.where(later, first + 1, first))
    return keep
