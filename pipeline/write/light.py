"""How light falls on sewn thread.

A stitch is a glossy cylinder that rises from one needle point, arches over and dives into the next. Its
matt share is lit by the cylinder's slope. Its sheen is that of a fibre: strongest where the light is
mirrored about the fibre's direction (J. Kajiya and T. Kay, "Rendering fur with three dimensional textures",
SIGGRAPH 1989; formula from memory), so that neighbouring fills of one colour differ by their angle and a satin
column carries a band of light. Rims are darkened, so that single threads can be told apart. The shares are
our own, judged by eye. Everything is reckoned in linear light (sRGB as in IEC 61966-2-1).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.colour import linear

Array = NDArray[np.float64]
Pixels = NDArray[np.float32]

TOWARDS_LIGHT = np.array([-0.42, -0.55, 0.72]) / np.linalg.norm([-0.42, -0.55, 0.72])
"""Where the light comes from: left, above, and towards the eye (x right, y down, z up), of length 1."""

EYE = np.array([0.0, 0.0, 1.0])
MIRROR = (TOWARDS_LIGHT + EYE) / np.linalg.norm(TOWARDS_LIGHT + EYE)
"""Halfway between the light and the eye, which looks straight down."""

ARCH = 0.45
"""Slope (radians) with which a stitch leaves the fabric at its ends."""

AMBIENT, MATT, GLOSS = 0.48, 0.46, 0.42
"""Shares of the light: from everywhere, by slope, and by sheen (a tenth power: a soft highlight)."""

RIM, DIP = 0.5, 0.25
"""Light lost at the very rim of a thread, and where it dives into the fabric."""

WANDER = 0.06
"""How much single stitches differ in tone."""


@dataclass(frozen=True, eq=False)
class Lit:
    """Threads ready to be lit: for each what the shading of its points needs.

    ``across`` and ``along`` are linear in x and y (mm): -1…1 from rim to rim and from end to end; ``side`` and
    ``forward`` are the light's share square to the thread and along it, ``lean`` that of the mirror direction.
    """

    rows: tuple[Pixels, ...]

    @classmethod
    def of(cls, ends: Array, widths_mm: Array) -> Lit:
        """Threads from their ends, ``(n, 2, 2)`` in mm, and widths, ``(n,)``."""
        start, run = ends[:, 0], ends[:, 1] - ends[:, 0]
        length = np.hypot(run[:, 0], run[:, 1])
        x, y = (run / np.where(length > 0, length, 1.0)[:, None]).T
        per_half = 2.0 / widths_mm
        per_length = np.where(length > 0, 2.0 / np.where(length > 0, length, 1.0), 0.0)
        tone = 1.0 + WANDER * (np.arange(len(ends)) * 0.618034 % 1.0 - 0.5)
        rows = (
            -y * per_half,
            x * per_half,
            (y * start[:, 0] - x * start[:, 1]) * per_half,
            x * per_length,
            y * per_length,
            -(x * start[:, 0] + y * start[:, 1]) * per_length - (length > 0),
            TOWARDS_LIGHT[1] * x - TOWARDS_LIGHT[0] * y,
            TOWARDS_LIGHT[0] * x + TOWARDS_LIGHT[1] * y,
            MIRROR[0] * x + MIRROR[1] * y,
            tone,
        )
        return cls(tuple(np.ascontiguousarray(row, dtype=np.float32) for row in rows))

    def shade(self, which: NDArray[Any], x: Pixels, y: Pixels) -> tuple[Pixels, Pixels]:
        """How much of its own colour and how much sheen each place (mm) shows, for the thread ``which`` there."""
        ax, ay, a0, tx, ty, t0, side, forward, lean, tone = (row[which] for row in self.rows)
        across = np.clip(ax * x + ay * y + a0, -1.0, 1.0)
        along = np.clip(tx * x + ty * y + t0, -1.0, 1.0)
        square = across * across
        up = np.sqrt(1.0 - square)
        slope = along * np.float32(-ARCH)
        matt = np.maximum(across * side + up * (np.float32(TOWARDS_LIGHT[2]) - slope * forward), 0.0)
        lean += slope * np.float32(MIRROR[2])
        sheen = np.maximum(1.0 - lean * lean / (1.0 + slope * slope), 0.0)
        sheen *= sheen  # 2
        fourth = sheen * sheen
        sheen *= fourth * fourth  # 2 + 8
        tone *= 1.0 - np.float32(RIM) * square * square
        along *= along
        along *= along
        return (AMBIENT + MATT * matt) * tone * (1.0 - np.float32(DIP) * along * along), sheen * up * tone * GLOSS


def sent_back(srgb: Array) -> tuple[Pixels, Pixels]:
    """What threads of these colours (``(n, 3)``, 0…1) send back, in linear light: of their own, and as sheen.

    Sheen is mostly the thread's colour, with some of the light's, and dark thread still shines a little.
    """
    own = linear(srgb).astype(np.float32)
    strength = 0.12 + 0.88 * own.max(axis=-1, keepdims=True)
    return own, np.asarray(strength * (0.22 + 0.78 * own), dtype=np.float32)


def encoded(light: Pixels) -> NDArray[np.uint8]:
    """Linear light as sRGB of 0…255; too bright is white."""
    place = np.clip(light * np.float32(FINE), 0, FINE).astype(np.uint16)
    return np.asarray(CURVE[place])


def _curve() -> NDArray[np.uint8]:
    share = (np.arange(FINE + 1) + 0.5) / FINE
    curve = np.where(share <= 0.0031308, share * 12.92, 1.055 * share ** (1 / 2.4) - 0.055)
    return np.rint(np.minimum(curve, 1.0) * 255.0).astype(np.uint8)


FINE = 2**15
"""Steps of linear light that are told apart: a step of sRGB is at least ten of them."""

CURVE = _curve()
