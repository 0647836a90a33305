"""Path data and basic shapes as cubic curves (W3C SVG 2, chapters 9 and 10); the only importer of svgelements.

Arcs become cubics here, before any transform, so that every later map of their control points is exact.
"""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from svgelements import Arc, Close, CubicBezier, Move, Path, QuadraticBezier

from pipeline.read.matrix import NUMBER
from pipeline.read.units import LARGEST

Array = NDArray[np.float64]
Spot = tuple[float, float]
Curve = tuple[Spot, Spot, Spot, Spot]

_GAP = r"[\s,]*+"
_COMMAND = re.compile(
    rf"\s*+(?:([MmLlTt])((?:{_GAP}{NUMBER}{_GAP}{NUMBER})++)"
    rf"|([HhVv])((?:{_GAP}{NUMBER})++)"
    rf"|([Cc])((?:{_GAP}(?:{NUMBER}{_GAP}){{5}}{NUMBER})++)"
    rf"|([SsQq])((?:{_GAP}(?:{NUMBER}{_GAP}){{3}}{NUMBER})++)"
    rf"|([Aa])((?:{_GAP}(?:{NUMBER}{_GAP}){{3}}[01]{_GAP}[01]{_GAP}{NUMBER}{_GAP}{NUMBER})++)"
    r"|([Zz])())"
)
_NUMBER = re.compile(NUMBER)
_ARITY = {"m": 2, "l": 2, "t": 2, "h": 1, "v": 1, "c": 6, "s": 4, "q": 4, "a": 7, "z": 1}
# An eighth of a turn: the cubic misses the circle by 4 millionths of its radius.
_EIGHTH = 4 / 3 * math.tan(math.pi / 16)


@dataclass(frozen=True, eq=False)
class Outline:
    """Subpaths as curves: ``curves (n, 4, 2)``, ``straight (n,)`` bool, ``first (m,)`` and ``closed`` per subpath.

    Curve i + 1 of a subpath starts where curve i ends; a closed subpath ends with a straight curve to its
    first point (maybe of no length).
    """

    curves: Array
    straight: NDArray[np.bool_]
    first: tuple[int, ...]
    closed: tuple[bool, ...]

    def box(self) -> tuple[float, float, float, float]:
        """Bounds (x0, y0, x1, y1) of the control points: those of the shape, or a little more at curves."""
        low, high = self.curves.min(axis=(0, 1)), self.curves.max(axis=(0, 1))
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])


class Pen:
    """Collects curves into an ``Outline``."""

    def __init__(self) -> None:
        self.curves: list[Curve] = []
        self.straight: list[bool] = []
        self.first: list[int] = []
        self.closed: list[bool] = []

    def begin(self) -> None:
        self.first.append(len(self.curves))
        self.closed.append(False)

    def line(self, a: Spot, b: Spot) -> None:
        self.curves.append((a, a, b, b))
        self.straight.append(True)

    def curve(self, a: Spot, b: Spot, c: Spot, d: Spot) -> None:
        self.curves.append((a, b, c, d))
        self.straight.append(False)

    def close(self, a: Spot, b: Spot) -> None:
        self.line(a, b)
        self.closed[-1] = True

    def outline(self) -> Outline | None:
        """What was drawn; None for nothing, ``ValueError`` for a coordinate out of range."""
        if not self.curves:
            return None
        curves = np.array(self.curves, dtype=np.float64)
        if not bool(np.all(np.abs(curves) <= LARGEST)):
            raise ValueError("a coordinate is not finite or out of range")
        return Outline(curves, np.array(self.straight), tuple(self.first), tuple(self.closed))


def path(data: str, most: int) -> tuple[Outline | None, str | None]:
    """The outline of path data up to its first fault, and the words at the fault (None for none).

    ``most`` bounds the number of segments (``ValueError`` beyond).
    """
    good, fault = _good_part(data)
    if not good:
        return None, fault
    if sum(map(len, good)) > 2 * most and len(_letters(good)) > most:
        raise ValueError("the path has too many segments")
    try:
        segments = list(Path("".join(good)))
    except (ValueError, TypeError, IndexError, ZeroDivisionError, OverflowError) as error:
        raise ValueError(f"the path data cannot be read ({error})") from error
    if len(segments) > most:
        raise ValueError("the path has too many segments")
    letters = _letters(good) if re.search("[QqTt]", data) and re.search("[CcSs]", data) else None
    return _drawn(segments, letters), fault


def _good_part(data: str) -> tuple[list[str], str | None]:
    """The commands up to the first fault, and what stands there (SVG 2: draw up to the error)."""
    good: list[str] = []
    at, end = 0, len(data.rstrip())
    while at < end:
        found = _COMMAND.match(data, at)
        if found is None or (not good and found.group().lstrip()[0] not in "Mm"):
            return good, data[at : at + 24].strip()
        good.append(found.group())
        at = found.end()
        while at < end and data[at] in ", \t\r\n":
            at += 1
    return good, None


def _letters(good: list[str]) -> str:
    """One lower-case command letter a segment, repetitions written out."""
    letters = []
    for command in good:
        letter = command.lstrip()[0].lower()
        count = 1 if letter == "z" else len(_NUMBER.findall(command)) // _ARITY[letter]
        letters.append("m" + "l" * (count - 1) if letter == "m" else letter * count)
    return "".join(letters)


def _spot(point: object) -> Spot:
    return float(point.x), float(point.y)  # type: ignore[attr-defined]


def _drawn(segments: list[object], letters: str | None) -> Outline | None:
    """The library's segments as curves; reflections after another kind of curve are put right."""
    pen = Pen()
    start: Spot = (0.0, 0.0)
    fresh = True
    control: Spot | None = None
    for i, segment in enumerate(segments):
        end = _spot(segment.end) if segment.end is not None else start  # type: ignore[attr-defined]
        if isinstance(segment, Move):
            start, fresh = end, True
            home = end
            continue
        if fresh:
            pen.begin()
            fresh = False
        if isinstance(segment, CubicBezier):
            first = _spot(segment.control1)
            if letters and letters[i] == "s" and letters[i - 1] not in "cs":
                first = start
            pen.curve(start, first, _spot(segment.control2), end)
        elif isinstance(segment, QuadraticBezier):
            middle = _spot(segment.control)
            if letters and letters[i] == "t":
                known = letters[i - 1] in "qt" and control is not None
                middle = (2 * start[0] - control[0], 2 * start[1] - control[1]) if known and control else start
            control = middle
            pen.curve(start, _third(start, middle), _third(end, middle), end)
        elif isinstance(segment, Arc):
            _arc(pen, segment, start, end)
        elif isinstance(segment, Close):
            pen.close(start, home)
            end, fresh = home, True
        else:
            pen.line(start, end)
        start = end
    return pen.outline()


def _third(end: Spot, middle: Spot) -> Spot:
    """The cubic's control point beside ``end`` for a quadratic's ``middle``."""
    return end[0] + (middle[0] - end[0]) * 2 / 3, end[1] + (middle[1] - end[1]) * 2 / 3


def _arc(pen: Pen, arc: Arc, start: Spot, end: Spot) -> None:
    if start == end:
        return
    if not arc.sweep or not math.isfinite(arc.sweep):
        pen.line(start, end)
        return
    pieces = list(arc.as_cubic_curves())
    for i, piece in enumerate(pieces):
        last = end if i + 1 == len(pieces) else _spot(piece.end)
        pen.curve(start, _spot(piece.control1), _spot(piece.control2), last)
        start = last


def polygon(values: list[float], closed: bool) -> Outline | None:
    """``points`` of a polyline or polygon; an odd last number is left out."""
    spots = list(zip(values[0::2], values[1::2], strict=False))
    if len(spots) < 2:
        return None
    pen = Pen()
    pen.begin()
    for a, b in itertools.pairwise(spots):
        pen.line(a, b)
    if closed:
        pen.close(spots[-1], spots[0])
    return pen.outline()


def ellipse(cx: float, cy: float, rx: float, ry: float) -> Outline | None:
    """A whole ellipse, drawn from three o'clock as SVG asks; None where a radius is not positive."""
    if rx <= 0 or ry <= 0:
        return None
    pen = Pen()
    pen.begin()
    _turn(pen, cx, cy, rx, ry, 0, 8)
    pen.close((cx + rx, cy), (cx + rx, cy))
    return pen.outline()


def rectangle(x: float, y: float, w: float, h: float, rx: float, ry: float) -> Outline | None:
    """A rectangle, its corners rounded by radii (already defaulted); None where a side is not positive."""
    if w <= 0 or h <= 0:
        return None
    rx, ry = min(rx, w / 2), min(ry, h / 2)
    pen = Pen()
    pen.begin()
    if rx <= 0 or ry <= 0:
        corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        for a, b in itertools.pairwise(corners):
            pen.line(a, b)
        pen.close(corners[-1], corners[0])
        return pen.outline()
    pen.line((x + rx, y), (x + w - rx, y))
    _turn(pen, x + w - rx, y + ry, rx, ry, -2, 2)
    pen.line((x + w, y + ry), (x + w, y + h - ry))
    _turn(pen, x + w - rx, y + h - ry, rx, ry, 0, 2)
    pen.line((x + w - rx, y + h), (x + rx, y + h))
    _turn(pen, x + rx, y + h - ry, rx, ry, 2, 2)
    pen.line((x, y + h - ry), (x, y + ry))
    _turn(pen, x + rx, y + ry, rx, ry, 4, 2)
    pen.close((x + rx, y), (x + rx, y))
    return pen.outline()


def _turn(pen: Pen, cx: float, cy: float, rx: float, ry: float, first: int, count: int) -> None:
    """``count`` eighths of an ellipse from the eighth ``first``, x towards y."""
    for i in range(first, first + count):
        a, b = i * math.pi / 4, (i + 1) * math.pi / 4
        ca, sa, cb, sb = math.cos(a), math.sin(a), math.cos(b), math.sin(b)
        pen.curve(
            (cx + rx * ca, cy + ry * sa),
            (cx + rx * (ca - _EIGHTH * sa), cy + ry * (sa + _EIGHTH * ca)),
            (cx + rx * (cb + _EIGHTH * sb), cy + ry * (sb - _EIGHTH * cb)),
            (cx + rx * cb, cy + ry * sb),
        )
