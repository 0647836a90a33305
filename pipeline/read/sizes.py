"""Lengths, numbers, viewBox and preserveAspectRatio (W3C SVG 2, chapters 7–8; CSS Values: 1 in = 96 px)."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from pipeline.read.matrix import IDENTITY, NUMBER, PX, Matrix

MM_PER_PX = 25.4 / 96
# A number in a file beyond this is a fault, not a place in a drawing.
LARGEST = 1e7

_LENGTH = re.compile(rf"\s*+({NUMBER})\s*+([A-Za-z]*+|%)\s*+")
_NUMBER = re.compile(NUMBER)

Axis = Literal["x", "y", "size"]
Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Measure:
    """What relative lengths are measured by: viewport and font sizes in user units."""

    width: float
    height: float
    font: float = 16.0
    root_font: float = 16.0

    def length(self, text: str, axis: Axis) -> float:
        """``text`` in user units; ``ValueError`` where it is no length or out of range."""
        found = _LENGTH.fullmatch(text)
        if found is None:
            raise ValueError(f"“{text[:24]}” is no length")
        value, unit = float(found.group(1)), found.group(2).lower()
        result = value * self._unit(unit, axis)
        if not abs(result) <= LARGEST:
            raise ValueError(f"“{text[:24]}” is out of range")
        return result

    def pair(self, across: str, down: str) -> tuple[float, float]:
        """The same of a length along x and one along y."""
        return self.length(across, "x"), self.length(down, "y")

    def _unit(self, unit: str, axis: Axis) -> float:
        if unit in PX:
            return PX[unit]
        across, down = self.width, self.height
        relative = {
            "%": (across if axis == "x" else down if axis == "y" else math.sqrt((across**2 + down**2) / 2)) / 100,
            "em": self.font,
            "ex": self.font / 2,
            "ch": self.font / 2,
            "rem": self.root_font,
            "vw": across / 100,
            "vh": down / 100,
            "vmin": min(across, down) / 100,
            "vmax": max(across, down) / 100,
        }
        if unit not in relative:
            raise ValueError(f"{unit} is no unit of length")
        return relative[unit]


def numbers(text: str, most: int = 100_000) -> list[float]:
    """The numbers of a list parted by blanks or commas; ``ValueError`` where anything else is in it."""
    if re.sub(r"[\s,]++", "", _NUMBER.sub("", text[: most * 16])):
        raise ValueError(f"“{text[:24]}” is no list of numbers")
    values = [float(part) for part in _NUMBER.findall(text)]
    if any(not abs(value) <= LARGEST for value in values):
        raise ValueError("a number is out of range")
    return values


def share(text: str) -> float:
    """A number or percentage clamped to 0…1; ``ValueError`` where it is neither."""
    found = _LENGTH.fullmatch(text)
    if found is None or found.group(2) not in ("", "%"):
        raise ValueError(f"“{text[:24]}” is no opacity")
    value = float(found.group(1)) / (100 if found.group(2) else 1)
    return min(max(value, 0.0), 1.0)


def view_box(text: str | None) -> Box | None:
    """The four numbers of a viewBox, None where there is none or it is malformed or of no size."""
    if text is None:
        return None
    try:
        values = numbers(text)
    except ValueError:
        return None
    if len(values) != 4 or values[2] <= 0 or values[3] <= 0:
        return None
    return (values[0], values[1], values[2], values[3])


def placed(sides: Callable[[str], str], measure: Measure, within: Box | None) -> Box:
    """The rectangle of ``x``, ``y``, ``width`` and ``height``; as shares of a box if it is ``within`` one."""
    own = Measure(1.0, 1.0) if within else measure
    (x, y), (w, h) = own.pair(sides("x"), sides("y")), own.pair(sides("width"), sides("height"))
    if within is None:
        return x, y, w, h
    return within[0] + x * within[2], within[1] + y * within[3], w * within[2], h * within[3]


def fitted(box: Box | None, width: float, height: float, aspect: str) -> tuple[Matrix, bool]:
    """The map from ``box`` into a viewport of ``width`` × ``height`` at the origin, and whether it spills over."""
    if box is None:
        return IDENTITY, False
    x, y, w, h = box
    across, down = width / w, height / h
    words = aspect.split() or ["xMidYMid"]
    if words[0] == "defer":
        words = words[1:] or ["xMidYMid"]
    if words[0] == "none":
        return (across, 0, 0, down, -x * across, -y * down), False
    slices = "slice" in words[1:]
    both = max(across, down) if slices else min(across, down)
    align = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    right = align.get(words[0][1:4], 0.5)
    low = align.get(words[0][5:8], 0.5)
    shift_x = (width - w * both) * right - x * both
    shift_y = (height - h * both) * low - y * both
    return (both, 0, 0, both, shift_x, shift_y), slices
