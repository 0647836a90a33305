"""Affine maps as six numbers ``(a, b, c, d, e, f)``: x' = a x + c y + e, y' = b x + d y + f (SVG's order)."""

from __future__ import annotations

import math
import re

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Matrix = tuple[float, float, float, float, float, float]

IDENTITY: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
# Longer transform lists than this are no drawing program's work.
MOST_LETTERS = 20_000
# Two columns are square and equal to within this share: numbers in files carry 3 to 6 digits.
SIMILAR = 1e-3

NUMBER = r"[+-]?+(?:\d++\.?+\d*+|\.\d++)(?:[eE][+-]?+\d++)?+"
_CALL = re.compile(r"[\s,]*+([A-Za-z]++)\s*+\(([^()]*+)\)")
_ARGUMENT = re.compile(rf"\s*+,?\s*+({NUMBER})(px|deg|rad|grad|turn|pt|mm|cm|in|pc)?+")
PX = {"": 1.0, "px": 1.0, "pt": 96 / 72, "pc": 16.0, "in": 96.0, "cm": 96 / 2.54, "mm": 96 / 25.4, "q": 96 / 101.6}
DEGREES = {"deg": 1.0, "rad": 180 / math.pi, "grad": 0.9, "turn": 360.0}


def times(first: Matrix, second: Matrix) -> Matrix:
    """The map that does ``second``, then ``first`` (as nested transforms do)."""
    a, b, c, d, e, f = first
    p, q, r, s, t, u = second
    return (a * p + c * q, b * p + d * q, a * r + c * s, b * r + d * s, a * t + c * u + e, b * t + d * u + f)


def apply(matrix: Matrix, points: Array) -> Array:
    """``points`` ``(..., 2)`` mapped."""
    a, b, c, d, e, f = matrix
    return np.asarray(points @ np.array([[a, b], [c, d]]) + np.array([e, f]))


def inverse(matrix: Matrix) -> Matrix | None:
    """The way back, or None where the map flattens the plane."""
    a, b, c, d, e, f = matrix
    size = a * d - b * c
    if not math.isfinite(size) or abs(size) < 1e-18:
        return None
    return (d / size, -b / size, -c / size, a / size, (c * f - d * e) / size, (b * e - a * f) / size)


def scale(matrix: Matrix) -> float:
    """The mean scale, √|det|."""
    a, b, c, d, _, _ = matrix
    return math.sqrt(abs(a * d - b * c))


def similar(matrix: Matrix) -> bool:
    """Whether the map keeps angles (rotation, mirror, equal scale)."""
    a, b, c, d, _, _ = matrix
    size = math.hypot(a, b) + math.hypot(c, d)
    return (
        abs(a * c + b * d) <= SIMILAR * size * size and abs(math.hypot(a, b) - math.hypot(c, d)) <= SIMILAR * size
    )


def finite(matrix: Matrix) -> bool:
    """Whether all six numbers are finite and within reason."""
    return all(math.isfinite(value) and abs(value) < 1e9 for value in matrix)


def parse(text: str) -> Matrix:
    """The map of a transform list (SVG 2 attribute and CSS 2-D function names); ``ValueError`` if malformed.

    Whether its numbers are within reason is for ``finite`` to say.
    """
    stripped = text.strip()
    if not stripped or stripped == "none":
        return IDENTITY
    if len(stripped) > MOST_LETTERS:
        raise ValueError("the transform list is too long")
    total, at = IDENTITY, 0
    while at < len(stripped):
        call = _CALL.match(stripped, at)
        if call is None:
            raise ValueError(f"“{stripped[at : at + 24]}” is no transform")
        total = times(total, _one(call.group(1), _arguments(call.group(2))))
        at = call.end()
    return total


def _arguments(text: str) -> list[float]:
    values, at = [], 0
    text = text.strip()
    while at < len(text):
        found = _ARGUMENT.match(text, at)
        if found is None:
            raise ValueError(f"“{text[at : at + 24]}” is no number")
        values.append(float(found.group(1)) * (PX | DEGREES)[found.group(2) or ""])
        at = found.end()
    return values


def _one(name: str, v: list[float]) -> Matrix:
    n = len(v)
    if name == "matrix" and n == 6:
        return (v[0], v[1], v[2], v[3], v[4], v[5])
    if name == "translate" and n in (1, 2):
        return (1, 0, 0, 1, v[0], v[1] if n == 2 else 0.0)
    if name in ("translateX", "translateY") and n == 1:
        return (1, 0, 0, 1, v[0], 0.0) if name == "translateX" else (1, 0, 0, 1, 0.0, v[0])
    if name == "scale" and n in (1, 2):
        return (v[0], 0, 0, v[1] if n == 2 else v[0], 0, 0)
    if name in ("scaleX", "scaleY") and n == 1:
        return (v[0], 0, 0, 1, 0, 0) if name == "scaleX" else (1, 0, 0, v[0], 0, 0)
    if name == "rotate" and n in (1, 3):
        c, s = math.cos(math.radians(v[0])), math.sin(math.radians(v[0]))
        turn: Matrix = (c, s, -s, c, 0, 0)
        return turn if n == 1 else around(turn, v[1], v[2])
    if name in ("skewX", "skewY") and n == 1:
        slope = math.tan(math.radians(v[0]))
        return (1, 0, slope, 1, 0, 0) if name == "skewX" else (1, slope, 0, 1, 0, 0)
    raise ValueError(f"{name} with {n} numbers is no transform")


def around(matrix: Matrix, x: float, y: float) -> Matrix:
    """``matrix`` done about the point (x, y)."""
    return times(times((1, 0, 0, 1, x, y), matrix), (1, 0, 0, 1, -x, -y))
