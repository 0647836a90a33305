"""Outlines as cubic curves, and the basic shapes (W3C SVG 2, chapter 10).

Arcs become cubics before any transform, so that every later map of their control points is exact.
"""

from __future__ import annotations

import itertools
import math
from array import array
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.read.matrix import Matrix
from pipeline.read.sizes import LARGEST

Array = NDArray[np.float64]
Spot = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Curves:
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
    """Collects curves into an ``Curves``; its length is the number of curves so far."""

    def __init__(self) -> None:
        self._numbers: array[float] = array("d")
        self._straight = bytearray()
        self._first: list[int] = []
        self._closed: list[bool] = []

    def __len__(self) -> int:
        return len(self._straight)

    def begin(self) -> None:
        """Begin a subpath."""
        self._first.append(len(self._straight))
        self._closed.append(False)

    def straight_to(self, x: float, y: float, to_x: float, to_y: float) -> None:
        """A straight line from (x, y)."""
        self._numbers.extend((x, y, x, y, to_x, to_y, to_x, to_y))
        self._straight.append(1)

    def bend_to(self, x: float, y: float, p: float, q: float, r: float, s: float, to_x: float, to_y: float) -> None:
        """A cubic from (x, y) with controls (p, q) and (r, s)."""
        self._numbers.extend((x, y, p, q, r, s, to_x, to_y))
        self._straight.append(0)

    def turn_to(self, x: float, y: float, frame: Matrix, first: float, span: float, last: Spot) -> None:
        """From (x, y) to ``last``: a unit circle from angle ``first`` over ``span``, through the matrix ``frame``.

        In eighths of a turn at most: such a cubic misses the circle by 4 millionths of its radius.
        """
        a, b, d, e, mid_x, mid_y = frame
        count = max(1, math.ceil(abs(span) / (math.pi / 4) - 1e-6))
        step = span / count
        reach = 4 / 3 * math.tan(step / 4)
        cosine, sine = math.cos(first), math.sin(first)
        for i in range(1, count + 1):
            u, v = cosine - reach * sine, sine + reach * cosine
            cosine, sine = math.cos(first + i * step), math.sin(first + i * step)
            p, q = cosine + reach * sine, sine - reach * cosine
            end = (mid_x + a * cosine + d * sine, mid_y + b * cosine + e * sine) if i < count else last
            one = mid_x + a * u + d * v, mid_y + b * u + e * v
            two = mid_x + a * p + d * q, mid_y + b * p + e * q
            self.bend_to(x, y, *one, *two, *end)
            x, y = end

    def line(self, a: Spot, b: Spot) -> None:
        """A straight line from a to b."""
        self.straight_to(*a, *b)

    def close(self, a: Spot, b: Spot) -> None:
        """A straight line from a back to the subpath's first point b, which closes it."""
        self.straight_to(*a, *b)
        self._closed[-1] = True

    def outline(self) -> Curves | None:
        """What was drawn; None for nothing, ``ValueError`` for a coordinate out of range."""
        if not self._straight:
            return None
        flat = np.frombuffer(self._numbers)
        if not float(np.abs(flat).max()) <= LARGEST:
            raise ValueError("a coordinate is not finite or out of range")
        straight = np.frombuffer(self._straight, dtype=np.bool_)
        return Curves(flat.reshape(-1, 4, 2), straight, tuple(self._first), tuple(self._closed))


def polygon(values: list[float], closed: bool) -> Curves | None:
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


def ellipse(cx: float, cy: float, rx: float, ry: float) -> Curves | None:
    """A whole ellipse, drawn from three o'clock as SVG asks; None where a radius is not positive."""
    if rx <= 0 or ry <= 0:
        return None
    pen = Pen()
    pen.begin()
    _turn(pen, cx, cy, rx, ry, 0, 8)
    pen.close((cx + rx, cy), (cx + rx, cy))
    return pen.outline()


def rectangle(x: float, y: float, w: float, h: float, rx: float, ry: float) -> Curves | None:
    """A rectangle, its corners rounded by radii (already defaulted); None where a side is not positive."""
    if w <= 0 or h <= 0:
        return None
    rx, ry = min(rx, w / 2), min(ry, h / 2)
    if rx <= 0 or ry <= 0:
        return polygon([x, y, x + w, y, x + w, y + h, x, y + h], closed=True)
    pen = Pen()
    pen.begin()
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
    start, end = (
        (cx + rx * math.cos(i * math.pi / 4), cy + ry * math.sin(i * math.pi / 4)) for i in (first, first + count)
    )
    pen.turn_to(*start, (rx, 0.0, 0.0, ry, cx, cy), first * math.pi / 4, count * math.pi / 4, end)
