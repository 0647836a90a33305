"""Colours as people see them: sRGB, CIE L*a*b*, the difference CIEDE2000, and plain names.

Sources: sRGB after IEC 61966-2-1; L*a*b* after CIE 15 with the white point D65 (2° observer); CIEDE2000 after
Sharma, Wu and Dalal, Color Research & Application 30(1), 2005; names from W3C CSS Color Level 4, section 6.1,
as plain words.
"""

from __future__ import annotations

import re
from functools import cache

import numpy as np
from numpy.typing import NDArray
from PIL import ImageColor

Array = NDArray[np.float64]

# Linear sRGB to CIE XYZ, IEC 61966-2-1 (D65).
_TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
_WHITE = _TO_XYZ.sum(axis=1)
_KNEE = (6.0 / 29.0) ** 3

_PLAIN_WORDS = """
alice blue, antique white, aqua, aquamarine, azure, beige, bisque, black, blanched almond, blue, blue violet,
brown, burly wood, cadet blue, chartreuse, chocolate, coral, cornflower blue, cornsilk, crimson, dark blue,
dark cyan, dark goldenrod, dark gray, dark green, dark khaki, dark magenta, dark olive green, dark orange,
dark orchid, dark red, dark salmon, dark sea green, dark slate blue, dark slate gray, dark turquoise, dark violet,
deep pink, deep sky blue, dim gray, dodger blue, fire brick, floral white, forest green, gainsboro, ghost white,
gold, goldenrod, gray, green, green yellow, honeydew, hot pink, indian red, indigo, ivory, khaki, lavender,
lavender blush, lawn green, lemon chiffon, light blue, light coral, light cyan, light goldenrod yellow,
light gray, light green, light pink, light salmon, light sea green, light sky blue, light slate gray,
light steel blue, light yellow, lime, lime green, linen, magenta, maroon, medium aquamarine, medium blue,
medium orchid, medium purple, medium sea green, medium slate blue, medium spring green, medium turquoise,
medium violet red, midnight blue, mint cream, misty rose, moccasin, navajo white, navy, old lace, olive,
olive drab, orange, orange red, orchid, pale goldenrod, pale green, pale turquoise, pale violet red, papaya whip,
peach puff, peru, pink, plum, powder blue, purple, rebecca purple, red, rosy brown, royal blue, saddle brown,
salmon, sandy brown, sea green, seashell, sienna, silver, sky blue, slate blue, slate gray, snow, spring green,
steel blue, tan, teal, thistle, tomato, turquoise, violet, wheat, white, white smoke, yellow, yellow green
"""
NAMES = {name: ImageColor.getrgb(name.replace(" ", "")) for name in re.split(r",\s+", _PLAIN_WORDS.strip())}
"""Plain name to sRGB of 0…255; of the standard's twins (gray and grey, aqua and cyan, fuchsia and magenta) one."""


def rgb(colour: str) -> Array:
    """``#rrggbb`` as ``(3,)`` in 0…1."""
    value = int(colour[1:], 16)
    return np.array([value >> 16, value >> 8 & 255, value & 255]) / 255.0


def linear(colours: Array) -> Array:
    """sRGB in 0…1 to linear light, of any shape."""
    return np.asarray(np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4))


def lab(colours: Array) -> Array:
    """sRGB ``(..., 3)`` in 0…1 to L*a*b* ``(..., 3)``."""
    ratio = linear(colours) @ _TO_XYZ.T / _WHITE
    f = np.where(ratio > _KNEE, np.cbrt(ratio), ratio * (29.0 / 6.0) ** 2 / 3.0 + 4.0 / 29.0)
    x, y, z = np.moveaxis(f, -1, 0)
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def difference(one: Array, other: Array) -> Array:
    """CIEDE2000 between L*a*b* colours ``(..., 3)``, all weights 1; about 1 is just noticeable."""
    l1, a1, b1 = np.moveaxis(np.asarray(one, dtype=np.float64), -1, 0)
    l2, a2, b2 = np.moveaxis(np.asarray(other, dtype=np.float64), -1, 0)
    grey = 0.5 * (1.0 - _saturation((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2.0))
    c1, h1 = _polar(a1 * (1.0 + grey), b1)
    c2, h2 = _polar(a2 * (1.0 + grey), b2)
    lightness, chroma = (l1 + l2) / 2.0, (c1 + c2) / 2.0
    coloured = c1 * c2 != 0.0
    turn = np.where(coloured, (h2 - h1 + 180.0) % 360.0 - 180.0, 0.0)
    # A turn of exactly half a circle counts as +180, as in the source; the remainder above gives -180.
    turn = np.where(coloured & (h2 - h1 == 180.0), 180.0, turn)
    hue = np.where(coloured, _mean_hue(h1, h2), h1 + h2)
    middle = (lightness - 50.0) ** 2
    weight_l = 1.0 + 0.015 * middle / np.sqrt(20.0 + middle)
    weight_c = 1.0 + 0.045 * chroma
    weight_h = 1.0 + 0.015 * chroma * _hue_factor(hue)
    part_l = (l2 - l1) / weight_l
    part_c = (c2 - c1) / weight_c
    part_h = 2.0 * np.sqrt(c1 * c2) * np.sin(np.radians(turn / 2.0)) / weight_h
    bend = -np.sin(np.radians(60.0 * np.exp(-(((hue - 275.0) / 25.0) ** 2)))) * 2.0 * _saturation(chroma)
    return np.asarray(np.sqrt(part_l**2 + part_c**2 + part_h**2 + bend * part_c * part_h))


def _saturation(chroma: Array) -> Array:
    return np.asarray(np.sqrt(chroma**7 / (chroma**7 + 25.0**7)))


def _polar(a: Array, b: Array) -> tuple[Array, Array]:
    return np.hypot(a, b), np.degrees(np.arctan2(b, a)) % 360.0


def _mean_hue(h1: Array, h2: Array) -> Array:
    """Half-way round the shorter arc, degrees."""
    total = h1 + h2
    across = np.where(total < 360.0, (total + 360.0) / 2.0, (total - 360.0) / 2.0)
    return np.where(np.abs(h1 - h2) <= 180.0, total / 2.0, across)


def _hue_factor(hue: Array) -> Array:
    return np.asarray(
        1.0
        - 0.17 * np.cos(np.radians(hue - 30.0))
        + 0.24 * np.cos(np.radians(2.0 * hue))
        + 0.32 * np.cos(np.radians(3.0 * hue + 6.0))
        - 0.20 * np.cos(np.radians(4.0 * hue - 63.0))
    )


@cache
def _named() -> tuple[tuple[str, ...], Array]:
    return tuple(NAMES), lab(np.array(list(NAMES.values())) / 255.0)


@cache
def name(colour: str) -> str:
    """The plain name nearest to ``#rrggbb`` by CIEDE2000; the first in the table of equally near ones."""
    names, places = _named()
    return names[int(np.argmin(difference(lab(rgb(colour)), places)))]
