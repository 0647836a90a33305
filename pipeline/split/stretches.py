"""Parting an axis by local width: which stretches of it are run, satin or tatami, and what they make together."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.medial import Axis, Branch
from pipeline.geometry.polyline import Array, stations
from pipeline.split.settings import SplitSettings

RUN, SATIN, TATAMI = 0, 1, 2

QUICK_FLARE = 0.8
"""Where a limb opens faster than this (mm of width a mm of way) as it meets something wider, it is cut before."""

LEAST_OF_CHORD = 0.9
"""A width is at least this share of the distance of its contacts, whatever the axis does there."""

WIDE_DISC = 1.25
"""A ridge is tatami whatever the distance of its contacts if its disc is wider than satin by this factor: where
satin columns of the full width meet at right angles the disc is just so wide."""

SHARES = 0.1, 0.5, 0.9
"""Shares of a shape's area that are narrower than its low, middle and high width."""

MODELLED = 1.4
"""A shape whose high width is this many times its low one is modelled; lines vary less, but for their joints."""

HYSTERESIS = 0.8
"""In such a shape a stretch never narrower than this share of the limit stays satin beside satin."""

TIP_LENGTHS = 2.0
"""The point of a column may be longer than other short runs by this factor and stays in it: satin ends in a run."""

STEADY_SHARE = 0.15
"""The widths of a corner stray from an even taper by at most this share of the widest."""

KNOB_WIDTHS = 1.5
"""A limb whose free end swells to this many times its own width ends in a knob, a piece of its own."""

KNOB = 1.3, 0.5
"""A short swelling of a hairline becomes satin only if wider than run by this factor, and wider than so many mm."""


@dataclass(eq=False)
class Stretch:
    """Ridges ``first`` to before ``last`` of a branch, sewn in one way. Ends name what lies there.

    An end is ``None`` (free), a node number (a junction), or the stretch next to it on the same branch.
    """

    branch: Branch
    first: int
    last: int
    sort: int
    widths: Array
    start: Stretch | int | None = None
    end: Stretch | int | None = None

    def chord(self, at_end: bool) -> tuple[int, int]:
        """The contacts (left, right) of the ridge at one end."""
        ridge = self.last - 1 if at_end else self.first
        return int(self.branch.left[ridge]), int(self.branch.right[ridge])

    def parted(self, before: int, after: int) -> tuple[Stretch, Stretch]:
        """The stretch in two: to before the ridge ``before``, and from ``after`` on."""
        j, k = before - self.first, after - self.first
        one = Stretch(self.branch, self.first, before, self.sort, self.widths[:j], self.start)
        two = Stretch(self.branch, after, self.last, self.sort, self.widths[k:], one, self.end)
        one.end = two
        return one, two


@dataclass(eq=False)
class Spans:
    """Working form of one branch's sorts: bounds and sort a span, with the local widths and way."""

    widths: Array
    way: Array
    bounds: list[int] = field(default_factory=list)
    sorts: list[int] = field(default_factory=list)

    def set(self, sort_of: Array) -> None:
        change = np.flatnonzero(np.diff(sort_of)) + 1
        self.bounds = [0, *change.tolist(), len(sort_of)]
        self.sorts = [int(sort_of[k]) for k in self.bounds[:-1]]

    def give(self, k: int, sort: int) -> None:
        """Make span ``k`` another sort and melt it with its likes."""
        each = np.repeat(self.sorts, np.diff(self.bounds)).astype(np.float64)
        each[self.bounds[k] : self.bounds[k + 1]] = sort
        self.set(each)

    def part(self, k: int) -> Array:
        return self.widths[self.bounds[k] : self.bounds[k + 1]]

    def length(self, k: int) -> float:
        return float(self.way[self.bounds[k + 1] - 1] - self.way[self.bounds[k]])


def chords(axis: Axis, branch: Branch) -> tuple[Array, Array]:
    """The width at every ridge, and the way along the middles of the cross-sections, both ``(n - 1,)``."""
    left, right = axis.samples[branch.left], axis.samples[branch.right]
    middle = 0.5 * (left + right)
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(middle, axis=0).T))])
    long = np.hypot(*(left - right).T)
    # Contacts are samples, so a chord may lie a little askew: measure it square to the axis.
    number = np.arange(len(long))
    last = len(branch.points) - 1
    step = branch.points[np.minimum(number + 3, last)] - branch.points[np.maximum(number - 2, 0)]
    across = np.abs(step[:, 0] * (left - right)[:, 1] - step[:, 1] * (left - right)[:, 0])
    return np.maximum(across / np.maximum(np.hypot(*step.T), 1e-12), LEAST_OF_CHORD * long), way


def stretches(axis: Axis, settings: SplitSettings) -> list[Stretch]:
    """Every branch of ``axis`` parted by width, in branch order."""
    degree: dict[int, int] = {}
    for branch in axis.branches:
        for node in (branch.start, branch.end):
            degree[node] = degree.get(node, 0) + 1
    found = []
    settings = _for_shape(axis, settings)
    for branch in axis.branches:
        free = (not branch.closed and degree[branch.start] == 1, not branch.closed and degree[branch.end] == 1)
        widths, way = chords(axis, branch)
        spans = _spans(widths, way, free, branch, settings)
        pieces = [
            Stretch(branch, a, b, sort, spans.widths[a:b])
            for a, b, sort in zip(spans.bounds[:-1], spans.bounds[1:], spans.sorts, strict=True)
        ]
        for one, two in pairwise(pieces):
            one.end, two.start = two, one
        if branch.closed:
            if len(pieces) > 1:
                pieces[0].start, pieces[-1].end = pieces[-1], pieces[0]
        else:
            least = _knob_mm(settings)
            knobs = (
                _knob(branch.radii[0], pieces[0].widths, least),
                _knob(branch.radii[-1], pieces[-1].widths[::-1], least),
            )
            pieces[0].start = None if free[0] and not knobs[0] else branch.start
            pieces[-1].end = None if free[1] and not knobs[1] else branch.end
        found.extend(pieces)
    return found


def _for_shape(axis: Axis, settings: SplitSettings) -> SplitSettings:
    """Lower limits of run in a shape that is mostly wider than a bold line, or that is modelled or small as
    letters are.

    A letter is satin throughout, hairlines and serifs included (compensation for pull makes them wide enough),
    while a long even line is run or triple run throughout.
    """
    every = [(widths[1:], np.diff(way)) for widths, way in (chords(axis, branch) for branch in axis.branches)]
    widths = np.concatenate([np.empty(0), *(one for one, _ in every)])
    areas = np.concatenate([np.empty(0), *(way * one for one, way in every)])
    order = np.argsort(widths, kind="stable")
    share = np.cumsum(areas[order])
    if not len(share) or share[-1] <= 0.0:
        return settings
    low, middle, high = (float(widths[order][np.searchsorted(share, s * share[-1])]) for s in SHARES)
    x0, y0, x1, y1 = axis.polygon.bounds
    size = max(x1 - x0, y1 - y0)
    small = size <= settings.small_shape_mm
    least = settings.letter_from_mm
    letter = (small or high > MODELLED * low) and middle > least and size >= settings.smallest_letter_mm
    even = 0.5 * (settings.run_below_mm + settings.run_surely_below_mm)
    limbs = areas[widths <= settings.satin_up_to_mm].sum()
    if limbs < 0.5 * axis.polygon.area or (middle < even and not letter):
        return settings
    return replace(
        settings, run_below_mm=settings.hairline_mm, run_surely_below_mm=HYSTERESIS * settings.hairline_mm
    )


def _knob_mm(settings: SplitSettings) -> float:
    return max(KNOB[0] * settings.run_below_mm, KNOB[1])


def _knob(radius: float, widths: Array, least_mm: float) -> bool:
    """Whether the disc at a free end is much wider than the limb (``widths`` from that end on)."""
    return 2.0 * radius > max(KNOB_WIDTHS * float(widths[0]), least_mm)


def _spans(widths: Array, way: Array, free: tuple[bool, bool], branch: Branch, settings: SplitSettings) -> Spans:
    discs = 2.0 * np.maximum(branch.radii[1:], branch.radii[:-1])
    wide = (widths > settings.satin_up_to_mm) | (discs > WIDE_DISC * settings.satin_up_to_mm)
    bead = (widths < settings.run_below_mm) & (
        discs > max(KNOB_WIDTHS * float(np.median(widths)), _knob_mm(settings))
    )
    bead &= _clear_of_junctions(branch, free) & _between(bead, free)
    widths = np.where(wide | bead, np.maximum(widths, discs), widths)
    spans = Spans(widths, way)
    sort_of = np.where(wide, TATAMI, np.where(widths < settings.run_below_mm, RUN, SATIN))
    spans.set(sort_of.astype(np.float64))
    changed = True
    while changed and len(spans.sorts) > 1:  # there come to be fewer spans, or as many and fewer of tatami
        changed = False
        for k in sorted(range(len(spans.sorts)), key=spans.length):
            sort = _steadied(spans, k, free, branch, settings)
            if sort != spans.sorts[k]:
                spans.give(k, sort)
                changed = True
                break
    _cut_before_flares(spans)
    return spans


def _between(bead: NDArray[np.bool_], free: tuple[bool, bool]) -> NDArray[np.bool_]:
    """Which ridges have a hairline on both sides: a bead at a free end is a knob, dealt with as such."""
    hair = np.flatnonzero(~bead)
    number = np.arange(len(bead))
    after = number > (hair[0] if len(hair) else len(bead)) if free[0] else np.ones(len(bead), dtype=np.bool_)
    before = number < (hair[-1] if len(hair) else -1) if free[1] else np.ones(len(bead), dtype=np.bool_)
    return after & before


def _clear_of_junctions(branch: Branch, free: tuple[bool, bool]) -> NDArray[np.bool_]:
    """Which ridges lie outside the discs of the junctions that the branch ends at."""
    along = stations(branch.points)
    clear = np.ones(len(along) - 1, dtype=np.bool_)
    if not branch.closed and not free[0]:
        clear &= along[:-1] >= branch.radii[0]
    if not branch.closed and not free[1]:
        clear &= along[-1] - along[1:] >= branch.radii[-1]
    return clear


def _steadied(spans: Spans, k: int, free: tuple[bool, bool], branch: Branch, settings: SplitSettings) -> int:
    """The sort that span ``k`` should be, given its neighbours: so that widths about a limit do not flicker."""
    sort, widths, length = spans.sorts[k], spans.part(k), spans.length(k)
    last = len(spans.sorts) - 1
    beside = [spans.sorts[j] for j in (k - 1, k + 1) if 0 <= j <= last]
    tip = (float(branch.radii[0]) if k == 0 and free[0] else 0.0) + (
        float(branch.radii[-1]) if k == last and free[1] else 0.0
    )
    narrow, wide = float(widths.min()), float(widths.max())
    length += tip
    ends_in_tip = (k == 0 and free[0]) or (k == last and free[1])
    way = spans.way[spans.bounds[k] : spans.bounds[k + 1]]
    corner = ends_in_tip and _tapers(widths, way - way[0], k == 0 and free[0])
    if sort == RUN and SATIN in beside:
        if narrow >= settings.run_surely_below_mm or length < settings.shortest_run_mm * (
            TIP_LENGTHS if corner else 1
        ):
            return SATIN
    elif sort == RUN and TATAMI in beside and length < settings.shortest_column_widths * wide:
        return TATAMI
    elif sort == SATIN and TATAMI in beside:
        if narrow >= settings.tatami_surely_over_mm:
            return TATAMI
        if RUN not in beside and length < settings.shortest_column_widths * float(np.median(widths)):
            return TATAMI
        if corner and length < settings.corner_widths * wide:
            return TATAMI
    elif sort == SATIN and RUN in beside and wide < _knob_mm(settings) and length < settings.shortest_run_mm:
        return RUN
    elif sort == TATAMI and wide <= WIDE_DISC * settings.satin_up_to_mm and length < settings.satin_up_to_mm:
        return SATIN
    return sort


def _tapers(widths: Array, way: Array, at_start: bool) -> bool:
    """Whether a span narrows steadily to its tip, at the start or the end of its ``way``, as limbs don't."""
    most, least = (widths[-1], widths[0]) if at_start else (widths[0], widths[-1])
    even = widths[0] + (widths[-1] - widths[0]) * way / max(float(way[-1]), 1e-9)
    return bool(least < 0.5 * most and np.abs(widths - even).max() < STEADY_SHARE * most)


def _cut_before_flares(spans: Spans) -> None:
    """Move the border between a limb and something wider to where the limb begins to open quickly."""
    for k in range(len(spans.sorts)):
        if spans.sorts[k] == TATAMI:
            continue
        first, last = spans.bounds[k], spans.bounds[k + 1]
        if k + 1 < len(spans.sorts) and spans.sorts[k + 1] > spans.sorts[k]:
            spans.bounds[k + 1] = first + _unflared(spans.widths[first:last], spans.way[first:last])
            last = spans.bounds[k + 1]
        if k > 0 and spans.sorts[k - 1] > spans.sorts[k]:
            back = spans.way[last - 1] - spans.way[first:last][::-1]
            spans.bounds[k] = last - _unflared(spans.widths[first:last][::-1], back)


def _unflared(widths: Array, way: Array) -> int:
    """How many ridges remain when a quick flare at the end is left out (at least half of them)."""
    reach = np.interp(way - 1.0, way, widths)
    quick = (widths - reach) / np.maximum(np.minimum(way, 1.0), 1e-6) > QUICK_FLARE
    quick &= way > 0.5 * way[-1]
    if not quick.any() or not quick[-max(1, len(quick) // 10) :].any():
        return len(widths)
    calm = np.flatnonzero(~quick & (way <= way[-1] - 0.2))
    count = int(calm[-1]) + 1 if len(calm) else len(widths)
    lowest = int(np.argmin(np.abs(widths - widths[:count].min()))) + 1
    return (
        min(count, max(lowest, 1))
        if widths[count - 1] > 1.5 * widths[:count].min() and lowest > count // 2
        else count
    )
