"""Colours of artwork: CSS values, means in linear light, and merging near-identical ones."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from tinycss2 import color4

from pipeline.colour import difference as difference, lab as lab, linear

Array = NDArray[np.float64]
Rgb = tuple[float, float, float]
Rgba = tuple[float, float, float, float]
# CIEDE2000 divides a difference of lightness by at most this (1 + 0.015 · 50² / √(20 + 50²), at black and white),
# so that colours farther apart in lightness need no further look.
LEAST = 1.75


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


@lru_cache(maxsize=4096)
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


def merged(areas: dict[str, float], same: float, most: int) -> dict[str, str]:
    """Which thread colour stands for each colour: ``{colour: thread}`` with ``areas`` in mm² as weights.

    Larger colours come first and take in what lies within ``same``; then, while more than ``most`` (0: no
    limit) are left, the one whose nearest fellow costs least (difference × area) gives way to it.
    """
    names = sorted(areas, key=lambda name: (-areas[name], name))
    if len(names) < 2:
        return {name: name for name in names}
    light = [_lab(name)[0] for name in names]
    stands: list[int] = []
    thread = list(range(len(names)))
    for i in range(len(names)):
        near = [s for s in stands if abs(light[i] - light[s]) <= LEAST * same]
        if near:
            far = difference(np.array([_lab(names[i])]), np.array([_lab(names[s]) for s in near]))
            best = int(np.argmin(far))
            if far[best] <= same:
                thread[i] = near[best]
                continue
        stands.append(i)
    while most and len(stands) > most:
        labs = np.array([_lab(name) for name in names])
        loser, heir = _cheapest(stands, thread, labs, np.array([areas[name] for name in names]))
        stands.remove(loser)
        thread = [heir if t == loser else t for t in thread]
    return {name: names[thread[i]] for i, name in enumerate(names)}


@lru_cache(maxsize=4096)
def _lab(name: str) -> tuple[float, float, float]:
    """L*a*b* of ``#rrggbb``."""
    light, a, b = lab(np.array(unhexed(name))).tolist()
    return light, a, b


def _cheapest(stands: list[int], thread: list[int], labs: Array, areas: Array) -> tuple[int, int]:
    """The colour to give up and the one that takes its place."""
    n = len(stands)
    held = np.array([sum(areas[i] for i, t in enumerate(thread) if t == s) for s in stands])
    one, two = np.repeat(np.arange(n), n), np.tile(np.arange(n), n)
    table = difference(labs[stands][one], labs[stands][two]).reshape(n, n) * held[:, None]
    np.fill_diagonal(table, np.inf)
    i, j = np.unravel_index(int(np.argmin(table)), (n, n))
    return stands[int(i)], stands[int(j)]
