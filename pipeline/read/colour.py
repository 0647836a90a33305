"""Colours: CSS values, the CIEDE2000 difference, means in linear light, and merging near-identical ones.

sRGB and its transfer curve: IEC 61966-2-1. CIELAB from D65 white; CIEDE2000 as Sharma, Wu and Dalal, Color
Research & Application 30(1), 2005, write it out.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from tinycss2 import color4

Array = NDArray[np.float64]
Rgb = tuple[float, float, float]
Rgba = tuple[float, float, float, float]

_TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
_WHITE = _TO_XYZ.sum(axis=1)


@lru_cache(maxsize=4096)
def parse(text: str) -> Rgba | None:
    """A CSS colour as sRGB and alpha in 0…1; None where it isn't one (``currentcolor`` is for the caller)."""
    words = text.strip()
    if len(words) == 7 and words[0] == "#":
        try:
            value = int(words[1:], 16)
        except ValueError:
            return None
        return (value >> 16 & 255) / 255, (value >> 8 & 255) / 255, (value & 255) / 255, 1.0
    try:
        colour = color4.parse_color(words)
    except (ValueError, TypeError, ZeroDivisionError, OverflowError):
        return None
    if colour is None or isinstance(colour, str):
        return None
    try:
        srgb = colour if colour.space == "srgb" else colour.to("srgb")
    except (ValueError, NotImplementedError, KeyError):
        return None
    values = [0.0 if part is None else float(part) for part in (*srgb.coordinates, srgb.alpha)]
    if not all(math.isfinite(value) for value in values):
        return None
    r, g, b, a = (min(max(value, 0.0), 1.0) for value in values)
    return r, g, b, a


def hexed(rgb: Rgb) -> str:
    """``#rrggbb``."""
    return "#" + "".join(f"{round(min(max(part, 0.0), 1.0) * 255):02x}" for part in rgb)


def unhexed(text: str) -> Rgb:
    """The three parts of ``#rrggbb``."""
    value = int(text[1:], 16)
    return (value >> 16) / 255, (value >> 8 & 255) / 255, (value & 255) / 255


def over(top: Rgb, alpha: float, below: Rgb) -> Rgb:
    """``top`` painted with ``alpha`` over an opaque colour (in sRGB, as SVG blends)."""
    r, g, b = (t * alpha + u * (1 - alpha) for t, u in zip(top, below, strict=True))
    return r, g, b


def linear(rgb: Array) -> Array:
    """sRGB parts to linear light."""
    return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)


def mean(colours: Array, weights: Array) -> Rgba:
    """The mean of ``(n, 4)`` sRGB and alpha by ``weights (n,)``: in linear light, transparent parts count less."""
    total = float(weights.sum())
    alpha = float((colours[:, 3] * weights).sum()) / total
    if alpha <= 0:
        return 0.0, 0.0, 0.0, 0.0
    share = colours[:, 3] * weights / (alpha * total)
    light = (linear(colours[:, :3]) * share[:, None]).sum(axis=0)
    srgb = np.where(light <= 0.0031308, light * 12.92, 1.055 * np.maximum(light, 0) ** (1 / 2.4) - 0.055)
    return float(srgb[0]), float(srgb[1]), float(srgb[2]), alpha


def lab(rgb: Array) -> Array:
    """sRGB ``(n, 3)`` to CIELAB (D65)."""
    t = linear(rgb) @ _TO_XYZ.T / _WHITE
    f = np.where(t > 216 / 24389, np.cbrt(t), (24389 / 27 * t + 16) / 116)
    return np.column_stack([116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])])


def difference(first: Array, second: Array) -> Array:
    """CIEDE2000 of CIELAB colours ``(n, 3)`` and ``(n, 3)``, with all weights 1."""
    l1, a1, b1 = first.T
    l2, a2, b2 = second.T
    mean_c7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    g = 0.5 * (1 - np.sqrt(mean_c7 / (mean_c7 + 25.0**7)))
    a1, a2 = a1 * (1 + g), a2 * (1 + g)
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360, np.degrees(np.arctan2(b2, a2)) % 360
    grey = c1 * c2 == 0
    turn = np.where(grey, 0.0, (h2 - h1 + 180) % 360 - 180)
    # Exactly opposite hues: Sharma's formula keeps +180 where the second hue is the larger.
    turn = np.where((turn == -180) & (h2 > h1), 180.0, turn)
    dl, dc = l2 - l1, c2 - c1
    dh = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn) / 2)
    ml, mc = (l1 + l2) / 2, (c1 + c2) / 2
    far = np.abs(h1 - h2) > 180
    mh = np.where(grey, h1 + h2, (h1 + h2) / 2 + np.where(far, np.where(h1 + h2 < 360, 180.0, -180.0), 0.0))
    rad = np.radians
    t = (
        1
        - 0.17 * np.cos(rad(mh - 30))
        + 0.24 * np.cos(rad(2 * mh))
        + 0.32 * np.cos(rad(3 * mh + 6))
        - 0.20 * np.cos(rad(4 * mh - 63))
    )
    sl = 1 + 0.015 * (ml - 50) ** 2 / np.sqrt(20 + (ml - 50) ** 2)
    sc, sh = 1 + 0.045 * mc, 1 + 0.015 * mc * t
    mc7 = mc**7
    rt = -2 * np.sqrt(mc7 / (mc7 + 25.0**7)) * np.sin(rad(60 * np.exp(-(((mh - 275) / 25) ** 2))))
    l_, c_, h_ = dl / sl, dc / sc, dh / sh
    return np.asarray(np.sqrt(np.maximum(l_**2 + c_**2 + h_**2 + rt * c_ * h_, 0.0)))


def merged(areas: dict[str, float], same: float, most: int) -> dict[str, str]:
    """Which thread colour stands for each colour: ``{colour: thread}`` with ``areas`` in mm² as weights.

    Larger colours come first and take in what lies within ``same``; then, while more than ``most`` (0: no
    limit) are left, the one whose nearest fellow costs least (difference × area) gives way to it.
    """
    names = sorted(areas, key=lambda name: (-areas[name], name))
    if not names:
        return {}
    labs = lab(np.array([unhexed(name) for name in names]))
    stands: list[int] = []
    thread = list(range(len(names)))
    for i in range(len(names)):
        if stands:
            far = difference(np.repeat(labs[i : i + 1], len(stands), axis=0), labs[stands])
            best = int(np.argmin(far))
            if far[best] <= same:
                thread[i] = stands[best]
                continue
        stands.append(i)
    while most and len(stands) > most:
        loser, heir = _cheapest(stands, thread, labs, np.array([areas[name] for name in names]))
        stands.remove(loser)
        thread = [heir if t == loser else t for t in thread]
    return {name: names[thread[i]] for i, name in enumerate(names)}


def _cheapest(stands: list[int], thread: list[int], labs: Array, areas: Array) -> tuple[int, int]:
    """The colour to give up and the one that takes its place."""
    n = len(stands)
    held = np.array([sum(areas[i] for i, t in enumerate(thread) if t == s) for s in stands])
    one, two = np.repeat(np.arange(n), n), np.tile(np.arange(n), n)
    table = difference(labs[stands][one], labs[stands][two]).reshape(n, n) * held[:, None]
    np.fill_diagonal(table, np.inf)
    i, j = np.unravel_index(int(np.argmin(table)), (n, n))
    return stands[int(i)], stands[int(j)]
