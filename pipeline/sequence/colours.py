"""The order of colour stops: as few changes as the overlaps allow, and how few they could be at best."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.errors import BrokenPromiseError
from pipeline.sequence.beam import lowest, search
from pipeline.sequence.fusion import Flags, Fusion, Ints, ends_taken, fusion, restricted, without_riders

WORK = 1_200_000_000
"""Multiplications a search may take: narrows it on very large designs so that they end in seconds."""

AGAIN = 4, 2
"""A search this many times wider looks for one stop fewer, where no more than so many could be saved at all."""

GROUP_SIZES = 2, 3
"""Sets of so many colours have their own optimum worked out for the lower bound, while ``WORK`` lasts."""

GROUP_WIDTH = 200
"""States kept side by side for one such set; one that needs more says nothing."""


@dataclass(frozen=True)
class ColourOrder:
    """``stops`` lists the units of each colour stop; no order of fewer than ``lowest`` stops is possible."""

    stops: tuple[tuple[int, ...], ...]
    lowest: int

    @property
    def proved(self) -> bool:
        """Whether fewer stops are impossible."""
        return len(self.stops) == self.lowest


def colour_order(colours: Sequence[str], before: Flags, width: int) -> ColourOrder:
    """The fewest stops found for units of ``colours``, bottom first.

    ``before`` is ``(n, n)``, closed: row u marks all that must be sewn before u. ``width`` states are followed
    side by side; where that is not enough for all, ``lowest`` may stay below what was found.
    """
    hue = _numbered(colours)
    kept = without_riders(hue, before)
    head, tail, kept = ends_taken(hue, before, kept)
    middle, least = _searched(hue, before, kept, width)
    sequence = [*head, *middle, *tail]
    return ColourOrder(_stops(sequence, hue, before), len(head) + least + len(tail))


def _numbered(colours: Sequence[str]) -> Ints:
    """Colours as numbers by their first unit from the bottom, so that their names decide nothing."""
    number: dict[str, int] = {}
    return np.array([number.setdefault(colour, len(number)) for colour in colours], dtype=np.int64)


def _searched(hue: Ints, before: Flags, kept: Ints, width: int) -> tuple[list[int], int]:
    """The colours of the stops of the units ``kept``, and the fewest stops possible."""
    if not len(kept):
        return [], 0
    problem = fusion(hue[kept], before[np.ix_(kept, kept)])
    names = np.unique(hue[kept])
    least = int(lowest(problem, np.ones((1, len(kept)), dtype=np.bool_))[0])
    room = max(1, WORK // (len(kept) ** 2 * max(least, 8)))
    found = search(problem, len(kept), min(width, room))
    stops = found.stops
    if stops is None:
        raise BrokenPromiseError("units that must come before each other in a circle")
    if found.exact:
        least = len(stops)
    if least < len(stops):
        least = max(least, _certified(problem))
    while least < len(stops) <= least + AGAIN[1]:  # one stop fewer each time
        better = search(problem, len(stops) - 1, min(AGAIN[0] * width, room))
        if better.stops is None:
            least = len(stops) if better.exact else least
            break
        stops = better.stops
    return [int(names[number]) for number in stops], least


def _certified(problem: Fusion) -> int:
    """A lower bound on the stops: each small set of colours needs its own optimum, whatever the others do."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # takes a quarter as long to load as all else

    colours = range(problem.count)
    single = np.maximum.reduceat(problem.depth, problem.first[:-1]).astype(np.float64)
    rows, least = [np.zeros(problem.count)], [0.0]
    spent = 0
    for group in itertools.chain(*(itertools.combinations(colours, size) for size in GROUP_SIZES)):
        if spent > WORK:
            break
        part = restricted(problem, group)
        own = search(part, len(part.colour), GROUP_WIDTH)
        spent += (own.looked + len(part.colour)) * len(part.colour) ** 2
        if own.exact and own.stops is not None:
            rows.append(np.isin(np.arange(problem.count), group).astype(np.float64))
            least.append(float(len(own.stops)))
    solved = milp(
        np.ones(problem.count),
        constraints=LinearConstraint(np.array(rows), np.array(least), np.inf),
        integrality=np.ones(problem.count),
        bounds=Bounds(single, np.inf),
    )
    return round(solved.fun) if solved.status == 0 else int(single.sum())


def _stops(sequence: list[int], hue: Ints, before: Flags) -> tuple[tuple[int, ...], ...]:
    """Everything that is free sewn at every stop; units of a stop from the bottom up."""
    need = before & (hue[:, None] != hue[None, :])
    left = np.ones(len(hue), dtype=np.bool_)
    stops = []
    for number in sequence:
        waiting = np.flatnonzero(left & (hue == number))
        sewn = waiting[~(need[waiting] & left).any(axis=1)]
        left[sewn] = False
        if len(sewn):
            stops.append(tuple(sewn.tolist()))
    if left.any():
        raise BrokenPromiseError("a unit is in no colour stop")
    return tuple(stops)
