"""Colours as people see them: sRGB, CIE L*a*b*, the difference CIEDE2000, and plain names.

Sources: sRGB after IEC 61966-2-1; L*a*b* after CIE 15 with the white point D65 (2° observer); CIEDE2000 after
Sharma, Wu and Dalal, Color Research & Application 30(1), 2005; names from W3C CSS Color Level 4, section 6.1,
as plain words.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Linear sRGB to CIE XYZ, IEC 61966-2-1 (D65).
_TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
_WHITE = _TO_XYZ.sum(axis=1)
_KNEE = (6.0 / 29.0) ** 3

NAMES = {
    "alice blue": 0xF0F8FF,
    "antique white": 0xFAEBD7,
    "aqua": 0x00FFFF,
    "aquamarine": 0x7FFFD4,
    "azure": 0xF0FFFF,
    "beige": 0xF5F5DC,
    "bisque": 0xFFE4C4,
    "black": 0x000000,
    "blanched almond": 0xFFEBCD,
    "blue": 0x0000FF,
    "blue violet": 0x8A2BE2,
    "brown": 0xA52A2A,
    "burly wood": 0xDEB887,
    "cadet blue": 0x5F9EA0,
    "chartreuse": 0x7FFF00,
    "chocolate": 0xD2691E,
    "coral": 0xFF7F50,
    "cornflower blue": 0x6495ED,
    "cornsilk": 0xFFF8DC,
    "crimson": 0xDC143C,
    "dark blue": 0x00008B,
    "dark cyan": 0x008B8B,
    "dark goldenrod": 0xB8860B,
    "dark gray": 0xA9A9A9,
    "dark green": 0x006400,
    "dark khaki": 0xBDB76B,
    "dark magenta": 0x8B008B,
    "dark olive green": 0x556B2F,
    "dark orange": 0xFF8C00,
    "dark orchid": 0x9932CC,
    "dark red": 0x8B0000,
    "dark salmon": 0xE9967A,
    "dark sea green": 0x8FBC8F,
    "dark slate blue": 0x483D8B,
    "dark slate gray": 0x2F4F4F,
    "dark turquoise": 0x00CED1,
    "dark violet": 0x9400D3,
    "deep pink": 0xFF1493,
    "deep sky blue": 0x00BFFF,
    "dim gray": 0x696969,
    "dodger blue": 0x1E90FF,
    "fire brick": 0xB22222,
    "floral white": 0xFFFAF0,
    "forest green": 0x228B22,
    "gainsboro": 0xDCDCDC,
    "ghost white": 0xF8F8FF,
    "gold": 0xFFD700,
    "goldenrod": 0xDAA520,
    "gray": 0x808080,
    "green": 0x008000,
    "green yellow": 0xADFF2F,
    "honeydew": 0xF0FFF0,
    "hot pink": 0xFF69B4,
    "indian red": 0xCD5C5C,
    "indigo": 0x4B0082,
    "ivory": 0xFFFFF0,
    "khaki": 0xF0E68C,
    "lavender": 0xE6E6FA,
    "lavender blush": 0xFFF0F5,
    "lawn green": 0x7CFC00,
    "lemon chiffon": 0xFFFACD,
    "light blue": 0xADD8E6,
    "light coral": 0xF08080,
    "light cyan": 0xE0FFFF,
    "light goldenrod yellow": 0xFAFAD2,
    "light gray": 0xD3D3D3,
    "light green": 0x90EE90,
    "light pink": 0xFFB6C1,
    "light salmon": 0xFFA07A,
    "light sea green": 0x20B2AA,
    "light sky blue": 0x87CEFA,
    "light slate gray": 0x778899,
    "light steel blue": 0xB0C4DE,
    "light yellow": 0xFFFFE0,
    "lime": 0x00FF00,
    "lime green": 0x32CD32,
    "linen": 0xFAF0E6,
    "magenta": 0xFF00FF,
    "maroon": 0x800000,
    "medium aquamarine": 0x66CDAA,
    "medium blue": 0x0000CD,
    "medium orchid": 0xBA55D3,
    "medium purple": 0x9370DB,
    "medium sea green": 0x3CB371,
    "medium slate blue": 0x7B68EE,
    "medium spring green": 0x00FA9A,
    "medium turquoise": 0x48D1CC,
    "medium violet red": 0xC71585,
    "midnight blue": 0x191970,
    "mint cream": 0xF5FFFA,
    "misty rose": 0xFFE4E1,
    "moccasin": 0xFFE4B5,
    "navajo white": 0xFFDEAD,
    "navy": 0x000080,
    "old lace": 0xFDF5E6,
    "olive": 0x808000,
    "olive drab": 0x6B8E23,
    "orange": 0xFFA500,
    "orange red": 0xFF4500,
    "orchid": 0xDA70D6,
    "pale goldenrod": 0xEEE8AA,
    "pale green": 0x98FB98,
    "pale turquoise": 0xAFEEEE,
    "pale violet red": 0xDB7093,
    "papaya whip": 0xFFEFD5,
    "peach puff": 0xFFDAB9,
    "peru": 0xCD853F,
    "pink": 0xFFC0CB,
    "plum": 0xDDA0DD,
    "powder blue": 0xB0E0E6,
    "purple": 0x800080,
    "rebecca purple": 0x663399,
    "red": 0xFF0000,
    "rosy brown": 0xBC8F8F,
    "royal blue": 0x4169E1,
    "saddle brown": 0x8B4513,
    "salmon": 0xFA8072,
    "sandy brown": 0xF4A460,
    "sea green": 0x2E8B57,
    "seashell": 0xFFF5EE,
    "sienna": 0xA0522D,
    "silver": 0xC0C0C0,
    "sky blue": 0x87CEEB,
    "slate blue": 0x6A5ACD,
    "slate gray": 0x708090,
    "snow": 0xFFFAFA,
    "spring green": 0x00FF7F,
    "steel blue": 0x4682B4,
    "tan": 0xD2B48C,
    "teal": 0x008080,
    "thistle": 0xD8BFD8,
    "tomato": 0xFF6347,
    "turquoise": 0x40E0D0,
    "violet": 0xEE82EE,
    "wheat": 0xF5DEB3,
    "white": 0xFFFFFF,
    "white smoke": 0xF5F5F5,
    "yellow": 0xFFFF00,
    "yellow green": 0x9ACD32,
}
"""Plain name to 0xRRGGBB; one each of the standard's twins (gray and grey, aqua and cyan, fuchsia and magenta)."""


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
    values = np.array(list(NAMES.values()))
    parts = np.stack([values >> 16, values >> 8 & 255, values & 255], axis=-1) / 255.0
    return tuple(NAMES), lab(parts)


@cache
def name(colour: str) -> str:
    """The plain name nearest to ``#rrggbb`` by CIEDE2000; the first in the table of equally near ones."""
    names, places = _named()
    return names[int(np.argmin(difference(lab(rgb(colour)), places)))]
