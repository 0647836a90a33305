"""Path data to curves (W3C SVG 2, chapter 9): commands, reflections, arcs as cubics.

A kernel of its own, because it is where reading spends its time; it is held to svgelements by tests.
"""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Iterator, Sequence

from pipeline.read.matrix import NUMBER
from pipeline.read.outline import Curves, Pen

_GAP = r"[\s,]*+"
_COMMAND = re.compile(
    rf"\s*+(?:([MmLlTt])((?:{_GAP}{NUMBER}{_GAP}{NUMBER})++)"
    rf"|([HhVv])((?:{_GAP}{NUMBER})++)"
    rf"|([Cc])((?:{_GAP}(?:{NUMBER}{_GAP}){{5}}{NUMBER})++)"
    rf"|([SsQq])((?:{_GAP}(?:{NUMBER}{_GAP}){{3}}{NUMBER})++)"
    rf"|([Aa])((?:{_GAP}(?:{NUMBER}{_GAP}){{3}}[01]{_GAP}[01]{_GAP}{NUMBER}{_GAP}{NUMBER})++)"
    rf"|([Zz])()){_GAP}"
)
_NUMBER = re.compile(NUMBER)
_ONE_ARC = re.compile(
    rf"({NUMBER}){_GAP}({NUMBER}){_GAP}({NUMBER}){_GAP}([01]){_GAP}([01]){_GAP}({NUMBER}){_GAP}({NUMBER})"
)
# Longer runs of numbers than this (letters) are turned into floats one by one, to bound memory.
LONG = 1_000_000


def path(data: str, most: int) -> tuple[Curves | None, str | None]:
    """The outline of path data up to its first fault, and the words at the fault (None for none).

    ``most`` bounds the number of segments; ``ValueError`` beyond, or where a coordinate is out of range.
    """
    tracer = _Tracer()
    fault = None
    at, end = 0, len(data.rstrip())
    while at < end:
        found = _COMMAND.match(data, at)
        letter = found[found.lastindex - 1] if found and found.lastindex else ""
        if found is None or not (tracer.started or letter in "Mm"):
            fault = data[at : at + 24].strip()
            break
        try:
            tracer.follow(letter, found[found.lastindex or 0])
        except (OverflowError, ZeroDivisionError) as error:
            raise ValueError("a coordinate is not finite or out of range") from error
        if len(tracer.pen) > most:
            raise ValueError("the path has too many segments")
        at = found.end()
    return tracer.pen.outline(), fault


def _floats(text: str) -> Sequence[float]:
    if len(text) <= LONG:
        return list(map(float, _NUMBER.findall(text)))
    return array("d", (float(found.group()) for found in _NUMBER.finditer(text)))


class _Tracer:
    """Follows commands with a pen: the current point, where the subpath began, the last control point."""

    def __init__(self) -> None:
        self.pen = Pen()
        self.started = False
        self._x = self._y = self._home_x = self._home_y = 0.0
        self._fresh = True
        # The control point that S (or T) reflects, and the letters that leave one.
        self._control: tuple[float, float] | None = None
        self._after = ""

    def follow(self, letter: str, text: str) -> None:
        """Draw one command with all its numbers."""
        kind = letter.upper()
        relative = letter != kind
        if kind == "Z":
            self._close()
        elif kind == "A":
            self._arcs(text, relative)
        elif kind in "CSQT":
            if kind not in self._after:
                self._control = None
            self._bends(kind, _floats(text), relative)
            return
        else:
            self._lines(kind, _floats(text), relative)
        self._control, self._after = None, ""

    def _begin(self) -> None:
        if self._fresh:
            self.pen.begin()
            self._fresh = False

    def _close(self) -> None:
        self._begin()
        self.pen.close((self._x, self._y), (self._home_x, self._home_y))
        self._x, self._y, self._fresh = self._home_x, self._home_y, True

    def _lines(self, kind: str, values: Sequence[float], relative: bool) -> None:
        x, y, line = self._x, self._y, self.pen.straight_to
        spots = iter(values)
        if kind == "M":
            first_x, first_y = next(spots), next(spots)
            x, y = (x + first_x, y + first_y) if relative and self.started else (first_x, first_y)
            self._home_x, self._home_y, self._fresh, self.started = x, y, True, True
        if len(values) > (2 if kind == "M" else 0):
            self._begin()
        if kind in "HV":
            for value in spots:
                to_x, to_y = x, y
                if kind == "H":
                    to_x = x + value if relative else value
                else:
                    to_y = y + value if relative else value
                line(x, y, to_x, to_y)
                x, y = to_x, to_y
        else:
            for to_x, to_y in zip(spots, spots, strict=True):
                if relative:
                    to_x, to_y = x + to_x, y + to_y
                line(x, y, to_x, to_y)
                x, y = to_x, to_y
        self._x, self._y = x, y

    def _bends(self, kind: str, values: Sequence[float], relative: bool) -> None:
        """Cubics and quadratics, with the reflections of their short forms."""
        self._begin()
        x, y, curve, control = self._x, self._y, self.pen.bend_to, self._control
        for a, b, c, d, to_x, to_y in _rows(kind, values):
            left, top = (x, y) if relative else (0.0, 0.0)
            to_x, to_y = left + to_x, top + to_y
            if kind == "C":
                control = left + c, top + d
                curve(x, y, left + a, top + b, *control, to_x, to_y)
            elif kind == "S":
                first = (2 * x - control[0], 2 * y - control[1]) if control else (x, y)
                control = left + c, top + d
                curve(x, y, *first, *control, to_x, to_y)
            else:
                if kind == "Q":
                    control = left + c, top + d
                else:
                    control = (2 * x - control[0], 2 * y - control[1]) if control else (x, y)
                p, q = control
                curve(
                    x, y, x + (p - x) * 2 / 3, y + (q - y) * 2 / 3,
                    to_x + (p - to_x) * 2 / 3, to_y + (q - to_y) * 2 / 3, to_x, to_y,
                )  # fmt: skip
            x, y = to_x, to_y
        self._x, self._y, self._control = x, y, control
        self._after = "CS" if kind in "CS" else "QT"

    def _arcs(self, text: str, relative: bool) -> None:
        for row in _ONE_ARC.finditer(text):
            rx, ry, turn, large, sweep, to_x, to_y = map(float, row.groups())
            if relative:
                to_x, to_y = self._x + to_x, self._y + to_y
            if (to_x, to_y) == (self._x, self._y):
                continue
            self._begin()
            if rx == 0 or ry == 0:
                self.pen.straight_to(self._x, self._y, to_x, to_y)
            else:
                self._arc(abs(rx), abs(ry), math.radians(turn), large == sweep, sweep > 0, to_x, to_y)
            self._x, self._y = to_x, to_y

    def _arc(
        self, rx: float, ry: float, turn: float, mirrored: bool, sweep: bool, to_x: float, to_y: float
    ) -> None:
        """One arc by its centre (W3C SVG 2, B.2.4), in eighths of a turn, the last point exact."""
        x, y = self._x, self._y
        c, s = math.cos(turn), math.sin(turn)
        half_x, half_y = (x - to_x) / 2, (y - to_y) / 2
        u, v = (c * half_x + s * half_y) / rx, (c * half_y - s * half_x) / ry
        size = u * u + v * v
        if size == 0:
            self.pen.straight_to(x, y, to_x, to_y)
            return
        if size > 1:
            rx, ry, u, v, size = (
                *(r * math.sqrt(size) for r in (rx, ry)),
                *(w / math.sqrt(size) for w in (u, v)),
                1.0,
            )
        k = math.sqrt(max(0.0, 1 / size - 1)) * (-1 if mirrored else 1)
        mid_u, mid_v = k * v, -k * u
        first = math.atan2(v - mid_v, u - mid_u)
        span = (math.atan2(-v - mid_v, -u - mid_u) - first) % math.tau
        span = span if sweep else span - math.tau
        a, b, d, e = c * rx, s * rx, -s * ry, c * ry
        mid_x = (x + to_x) / 2 + a * mid_u + d * mid_v
        mid_y = (y + to_y) / 2 + b * mid_u + e * mid_v
        self.pen.turn_to(x, y, (a, b, d, e, mid_x, mid_y), first, span, (to_x, to_y))


def _rows(kind: str, values: Sequence[float]) -> Iterator[tuple[float, float, float, float, float, float]]:
    """Numbers by segment: first control (C only), second or only control (not T), end."""
    flow = iter(values)
    if kind == "C":
        return zip(flow, flow, flow, flow, flow, flow, strict=True)
    if kind == "T":
        return ((0.0, 0.0, 0.0, 0.0, x, y) for x, y in zip(flow, flow, strict=True))
    return ((0.0, 0.0, c, d, x, y) for c, d, x, y in zip(flow, flow, flow, flow, strict=True))
