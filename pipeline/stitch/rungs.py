"""A satin column as a ladder: places along it, its rails with and without compensation, and the zig-zag."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from pipeline.craft import Craft
from pipeline.geometry.polyline import Array, divided, numbered
from pipeline.model import Column
from pipeline.stitch.chords import thinned
from pipeline.stitch.settings import SatinSettings

TIE_MM = 1e-6
"""What differs by less is equal, so that turning a drawing doesn't change a choice."""
STATION_MM = 0.5
"""Rails get a station at least this often, for compensation is not linear in the width."""
STRIDE_MM = 1.5
"""The rails are compared over such a stretch (its middle third counts most): a shorter one counts stations that
advance by turns twice, a longer one gives the outer side of a tight bend too few needle points."""
PLACE_MM = 0.1
"""Rails are compared in these steps."""
CLEAR = 0.9
"""Compensation stops at this share of the way to where neighbouring rungs would meet."""
WINDOW = 80
"""A short stitch is judged against so many points before it; enough for a hairpin of 7 mm width."""
PUSH_OFF_MM = 0.2
"""Nearer than this to another needle point of its bend a crossing is left out rather than sewn."""
SAME_BEND = 40
"""Crossings farther apart than this belong to another bend, which may come near where a column meets itself."""
MOST_LAYERS = 2.0
"""Full layers that a fan's rungs may lie thick at its inner end; fewer would leave it bare."""
SLANT_LAYERS = 1.3
"""Full layers that rungs may lie thick along a slanted edge; fewer make it a saw, more a ridge."""
FAN_STEPS = 8
"""The advance of both sides is averaged over so many crossings."""
STAGGER = np.array([-0.24, 0.08, 0.24, -0.08])
"""Where the inner points of split crossings move from crossing to crossing, as a share of one piece."""


@dataclass(frozen=True, eq=False)
class Ladder:
    """Rungs from ``left`` to ``right``, and with compensation from ``wide_left`` to ``wide_right``, all (n, 2).

    ``along`` (n,) is each rung's place: the way along the compensated rail that is longer from rung to rung,
    in mm (see ``_advances``), strictly increasing. A ``closed`` ladder ends with its first rung.
    """

    left: Array
    right: Array
    wide_left: Array
    wide_right: Array
    along: Array
    closed: bool

    @property
    def total(self) -> float:
        """The last rung's place."""
        return float(self.along[-1])

    def turned(self) -> Ladder:
        """The same ladder from its other end."""
        return Ladder(
            self.right[::-1],
            self.left[::-1],
            self.wide_right[::-1],
            self.wide_left[::-1],
            self.total - self.along[::-1],
            self.closed,
        )

    def begun_at(self, place: float) -> Column:
        """A closed ladder's column without compensation, its first station at ``place``."""
        after = int(np.searchsorted(self.along, place + 1e-6))
        left, right = self.rails(np.array([place]))
        order = np.concatenate([np.arange(after, len(self.along) - 1), np.arange(min(after, len(self.along) - 1))])
        return Column(np.vstack([left, self.left[order]]), np.vstack([right, self.right[order]]), closed=True)

    def rails(self, places: Array, wide: bool = False) -> tuple[Array, Array]:
        """Left and right end of the rungs at ``places`` (a closed ladder goes on round)."""
        if self.closed:
            places = np.mod(places, self.total)
        pair = (self.wide_left, self.wide_right) if wide else (self.left, self.right)
        found = [
            np.column_stack([np.interp(places, self.along, rail[:, axis]) for axis in (0, 1)]) for rail in pair
        ]
        return found[0], found[1]

    def line(self, a: float, b: float, side: int, inset_mm: float) -> Array:
        """The way from place ``a`` to ``b``: ``side`` 0 the middle, -1 and 1 inside the left and right edge."""
        low, high = min(a, b), max(a, b)
        steps = self.along
        if self.closed:
            steps = np.concatenate([steps[:-1] - self.total, steps[:-1], steps + self.total])
        places = np.concatenate([[low], steps[(steps > low) & (steps < high)], [high]])
        found = self.inside(places, np.full(len(places), side), inset_mm)
        return found if a <= b else found[::-1]

    def inside(self, places: Array, side: NDArray[np.int_], inset_mm: float) -> Array:
        """Points at ``places``, on the middle or ``inset_mm`` inside an edge (at most half the width)."""
        left, right = self.rails(places)
        width = np.maximum(np.hypot(*(right - left).T), 1e-9)
        share = np.minimum(inset_mm / width, 0.5)
        share = np.where(side < 0, share, np.where(side > 0, 1 - share, 0.5))
        return left + share[:, None] * (right - left)

    def nearest(self, spot: tuple[float, float]) -> float:
        """The place of the rung nearest to ``spot``."""
        places = np.linspace(0.0, self.total, max(9, int(self.total / 0.1) + 1))
        left, right = self.rails(places if not self.closed else places[:-1])
        rungs = shapely.linestrings(np.stack([left, right], axis=1))
        return float(places[int(np.argmin(shapely.distance(rungs, shapely.Point(spot))))])


def ladder(column: Column, pull_mm: float, pull_share: float, longest_mm: float = np.inf) -> Ladder:
    """The ladder of ``column``, each rail moved out along its rungs by ``pull_mm``, or by half ``pull_share`` of
    the width where that is more and does not make the rung longer than ``longest_mm``.

    Towards a point the compensation shrinks with the width, and on the inside of a bend it stops before
    neighbouring rungs would meet.
    """
    left, right = column.left, column.right
    if column.closed:
        left, right = np.vstack([left, left[:1]]), np.vstack([right, right[:1]])
    left, right = _stationed(left, right)
    width = np.hypot(*(right - left).T)
    way = (right - left) / np.maximum(width, 1e-9)[:, None]
    share = np.minimum(pull_share / 2 * width, (longest_mm - width) / 2)
    wanted = np.maximum(share, np.minimum(pull_mm, width / 2))
    more_left, more_right = _clear(left, -way, wanted), _clear(right, way, wanted)
    if column.closed:
        more_left[[0, -1]] = more_left[[0, -1]].min()
        more_right[[0, -1]] = more_right[[0, -1]].min()
    wide_left, wide_right = left - more_left[:, None] * way, right + more_right[:, None] * way
    return Ladder(left, right, wide_left, wide_right, _places(wide_left, wide_right), column.closed)


def _places(left: Array, right: Array) -> Array:
    """The way along whichever rail is longer, each rail's advance averaged over ``STRIDE_MM``.

    Judged from rung to rung, rails whose stations advance by turns would seem longer than either is.
    """
    ways = [np.concatenate([[0.0], np.cumsum(across)]) for across in _advances(left, right)]
    mean = 0.5 * (ways[0] + ways[1])
    count = max(1, round(float(mean[-1]) / PLACE_MM))
    even = np.linspace(0.0, float(mean[-1]), count + 1)
    rising = mean + np.arange(len(mean)) * 1e-12
    width = min(max(3, round(STRIDE_MM / PLACE_MM)), count)
    window = np.hanning(width + 2)[1:-1]
    window /= window.sum()
    half = (width // 2, width - 1 - width // 2)
    rates = [
        np.convolve(np.pad(np.diff(np.interp(even, rising, way)), half, mode="edge"), window, mode="valid")
        for way in ways
    ]
    longer = np.concatenate([[0.0], np.cumsum(np.maximum(rates[0], rates[1]))])
    return np.asarray(np.interp(mean, even, longer) + np.arange(len(mean)) * 1e-6)


def _advances(left: Array, right: Array) -> tuple[Array, Array]:
    """How far each end of a rung moves on to the next, in mm, (n - 1,) each: the way along its rail, but at most
    ``SLANT_LAYERS`` times what it moves square to the rungs.

    Along a rail that runs nearly with the rungs, as at a slanted end, needle points at the pitch would pile up
    thread upon thread; square to them alone they would leave the edge a saw.
    """
    rung = right - left
    rung = rung[:-1] + rung[1:]
    length = np.maximum(np.hypot(*rung.T), 1e-9)
    ways = []
    for step in (np.diff(left, axis=0), np.diff(right, axis=0)):
        square = np.abs(step[:, 0] * rung[:, 1] - step[:, 1] * rung[:, 0]) / length
        ways.append(np.minimum(np.hypot(*step.T), SLANT_LAYERS * square))
    return ways[0], ways[1]


def _stationed(left: Array, right: Array) -> tuple[Array, Array]:
    """The rails without repeated stations, and with more where they are far apart."""
    moved = np.maximum(np.hypot(*np.diff(left, axis=0).T), np.hypot(*np.diff(right, axis=0).T))
    keep = np.concatenate([[True], moved > 1e-6])
    left, right = left[keep], right[keep]
    pieces = np.ceil(moved[keep[1:]] / STATION_MM - TIE_MM).astype(int).clip(1)
    return divided(left, pieces), divided(right, pieces)


def _clear(rail: Array, out: Array, wanted: Array) -> Array:
    """How far each rung may be drawn out of the rail along ``out`` so that it meets no neighbour."""
    if len(rail) < 2:
        return wanted
    a, b, step = out[:-1], out[1:], np.diff(rail, axis=0)
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    safe = np.where(np.abs(cross) > 1e-9, cross, 1.0)
    first = (step[:, 0] * b[:, 1] - step[:, 1] * b[:, 0]) / safe
    second = (step[:, 0] * a[:, 1] - step[:, 1] * a[:, 0]) / safe
    meets = (np.abs(cross) > 1e-9) & (first > -1e-6) & (second > -1e-6)
    limit = np.where(meets, CLEAR * np.maximum(np.minimum(first, second), 0.0), np.inf)
    limit = np.minimum(np.concatenate([limit, [np.inf]]), np.concatenate([[np.inf], limit]))
    return np.asarray(np.minimum(wanted, limit))


def zigzag(rungs: Ladder, low: float, high: float, end: Array, settings: SatinSettings, craft: Craft) -> Array:
    """The needle points of satin from place ``low`` to ``high`` (``high`` > ``low``), ending on ``end``'s side.

    On the outer rail the points of one side lie the craft's pitch apart, each crossing advancing half of it; the
    first and the last advance a quarter, which squares the ends. ``(high - low) / (pitch / 2) + 1`` crossings.
    """
    count = max(1, int((high - low) / (craft.pitch_mm / 2) + 0.5 + TIE_MM))
    places = low + (high - low) * np.concatenate([[0.0], (np.arange(count) + 0.5) / count, [1.0]])
    left, right = rungs.rails(places, wide=True)
    return _crossed(left, right, np.arange(count + 2)[::-1], end, settings, craft)


def ring_zigzag(rungs: Ladder, end: Array, settings: SatinSettings, craft: Craft) -> Array:
    """The same once round a closed ladder, and on over its own beginning by ``seam_mm``, or less if narrower.

    An odd number of crossings a round puts the points of the overlap between those beneath it.
    """
    pitch_mm = craft.pitch_mm
    count = max(3, 2 * round((rungs.total / (pitch_mm / 2) - 1) / 2) + 1)
    width = float(np.hypot(*(rungs.wide_left[0] - rungs.wide_right[0])))
    seam = min(settings.seam_mm, max(width - 0.5 * pitch_mm, pitch_mm))
    more = min(int(seam / pitch_mm + TIE_MM), count // 2)
    steps = np.arange(-more, count + more + 1)
    left, right = rungs.rails(steps * rungs.total / count, wide=True)
    return _crossed(left, right, steps[-1] - steps, end, settings, craft)


def _crossed(
    left: Array, right: Array, ahead: NDArray[np.int_], end: Array, settings: SatinSettings, craft: Craft
) -> Array:
    """The crossings between rungs' ends, ``ahead`` of each so many more; the last ends on ``end``'s side."""
    last_on_left = bool(np.hypot(*(left[-1] - end)) <= np.hypot(*(right[-1] - end)) + TIE_MM)
    on_left = (ahead % 2 == 0) == last_on_left
    full = np.where(on_left[:, None], left, right)
    opposite = np.where(on_left[:, None], right, left)
    dots, sewn = _shortened(full, opposite, _thinning(left, right, on_left), settings, craft.planned_mm)
    keep = np.flatnonzero(sewn)
    keep = keep[thinned(dots[keep], np.zeros(len(keep), dtype=int), craft.kept_mm)]
    return _split(dots[keep], on_left[keep], craft.longest_mm)


def _thinning(left: Array, right: Array, on_left: NDArray[np.bool_]) -> Array:
    """How much of each rung its point must stop short so that no more than ``MOST_LAYERS`` lie inside a fan.

    Where the inner side advances by a share s of the outer, all rungs together lie 1 / s layers thick at their
    inner end. So every second point stops where that would pass the limit, every fourth where half of the rungs
    would, and so on to every sixteenth: at every depth between a half and all of the limit is left.
    """
    step = [np.hypot(*np.diff(rail, axis=0).T) for rail in (left, right)]
    window = np.ones(min(FAN_STEPS, len(step[0]))) / min(FAN_STEPS, len(step[0]))
    mean = [np.convolve(np.pad(one, len(window), mode="edge"), window, mode="same")[len(window) :] for one in step]
    one, other = (m[: len(left)] for m in mean)
    share = np.where(on_left, one / np.maximum(other, 1e-9), other / np.maximum(one, 1e-9))
    least = np.zeros(len(left))
    for side in (True, False):
        number = np.flatnonzero((on_left == side) & (share < 1.0 / MOST_LAYERS))
        # Counted along each fan: a gap of more than two points begins another.
        begins = np.concatenate([[True], np.diff(number) > 2]) if len(number) else np.zeros(0, dtype=bool)
        turn = np.arange(len(number)) - np.maximum.accumulate(np.where(begins, np.arange(len(number)), 0))
        alive = np.select(
            [turn % 2 == 1, turn % 4 == 2, turn % 8 == 4, turn % 16 == 8], [1.0, 0.5, 0.25, 0.125], 0.0
        )
        s = share[number]
        least[number] = np.clip((alive / MOST_LAYERS - s) / np.maximum(1.0 - s, 1e-9), 0.0, None)
    return least


def _shortened(
    full: Array, opposite: Array, least: Array, settings: SatinSettings, planned_mm: float
) -> tuple[Array, NDArray[np.bool_]]:
    """Points drawn in where a bend crowds them, by at least the shares ``least``, and which of them to sew.

    Each point takes the first depth that keeps it clear of the points before it and of those further on that
    stay at full depth because nothing on their side crowds them from beyond: so no bend leaves a gap behind it,
    and the column's ends stay whole. No stitch gets shorter than ``planned_mm``. Sequential by nature,
    since a depth depends on those before; it visits only points with a neighbour nearer than ``gap_mm``.
    """
    keep = np.ones(len(full), dtype=bool)
    pairs = cKDTree(full).query_pairs(settings.gap_mm, output_type="ndarray")
    if not len(pairs) or settings.gap_mm == 0.0:
        return full, keep
    stays = np.ones(len(full), dtype=bool)
    stays[1:-2] = np.hypot(*(full[3:] - full[1:-2]).T) >= settings.gap_mm
    stays[pairs[pairs[:, 1] - pairs[:, 0] > WINDOW].max(axis=1)] = False
    stays[[0, -2, -1]] = True
    placed, index = full.copy(), np.arange(len(full))
    for k in np.setdiff1d(pairs, np.flatnonzero(stays)).tolist():
        tried = full[k] + _depths(opposite[k] - full[k], float(least[k]), settings)[:, None] * (
            opposite[k] - full[k]
        )
        nearby = slice(max(0, k - WINDOW), k + WINDOW)
        counts = np.where(index[nearby] < k, keep[nearby], stays[nearby] & (index[nearby] > k))
        others, apart = placed[nearby][counts], np.abs(index[nearby][counts] - k)
        far = np.hypot(tried[:, None, 0] - others[None, :, 0], tried[:, None, 1] - others[None, :, 1])
        stitch = np.hypot(*(tried[:, None] - placed[[k - 1, k + 1]]).T).min(axis=0)
        near = np.minimum(far.min(axis=1), stitch - planned_mm + settings.gap_mm)
        good = (near >= settings.gap_mm) & ((far < 0.5).sum(axis=1) <= settings.crowd)
        best = int(np.argmax(good)) if good.any() else int(np.argmax(near))
        placed[k] = tried[best]
        own = far[best][apart <= SAME_BEND].min() if len(others) else np.inf
        keep[k] = good.any() or own >= PUSH_OFF_MM or not keep[k - 1]
    return placed, keep


def _depths(rung: Array, least_share: float, settings: SatinSettings) -> Array:
    """The depths to try on a rung, as shares of it: none, then three or more from the least to the most.

    None of them is below ``least_share``.

    On wide rungs the least is ``short_step_mm`` and the steps are no longer than that, or a tight bend of
    wide satin would stay bare near its inner edge.
    """
    width = max(float(np.hypot(*rung)), 1e-9)
    least = min(settings.short_least, settings.short_step_mm / width)
    count = max(3, 1 + int(np.ceil((settings.short_most - least) * width / settings.short_step_mm)))
    depths = np.concatenate([[0.0], np.linspace(least, settings.short_most, count)])
    if least_share <= 0.0:
        return depths
    return np.concatenate([[least_share], depths[depths > least_share]])


def _split(dots: Array, on_left: NDArray[np.bool_], longest_mm: float) -> Array:
    """Crossings over ``longest_mm`` with inner points, staggered from crossing to crossing."""
    step = np.hypot(*np.diff(dots, axis=0).T)
    if not len(step) or step.max() <= longest_mm:
        return dots
    most = float(np.abs(STAGGER).max())
    pieces = np.where(step > longest_mm, np.ceil((1 + most) * step / longest_mm), 1).astype(int)
    crossing, number = numbered(pieces)
    lean = STAGGER[crossing % len(STAGGER)] * np.where(on_left[:-1], 1.0, -1.0)[crossing]
    share = np.where(number == 0, 0.0, (number + lean) / pieces[crossing])
    found = dots[crossing] + share[:, None] * (dots[crossing + 1] - dots[crossing])
    return np.vstack([found, dots[-1:]])
