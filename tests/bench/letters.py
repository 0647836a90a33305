"""Outlines of letters for benches, through fontTools; fonts are installed by package and never committed.

Debian: fonts-dejavu, fonts-liberation, fonts-linuxlibertine, fonts-urw-base35, fonts-lobster,
fonts-dancingscript, fonts-oldstandard, fonts-comfortaa.
"""

from __future__ import annotations

import string
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.ttLib import TTFont
from shapely.affinity import affine_transform
from shapely.geometry import MultiPolygon, Polygon

FOLDER = Path("/usr/share/fonts")
ALPHABET = string.ascii_uppercase + string.ascii_lowercase + string.digits
STEPS = 12
"""Pieces that a curve is flattened into."""

TUNING = {
    "DejaVu Sans": "truetype/dejavu/DejaVuSans.ttf",
    "DejaVu Serif": "truetype/dejavu/DejaVuSerif.ttf",
}
JUDGING = {
    "Liberation Sans Bold": "truetype/liberation/LiberationSans-Bold.ttf",
    "Liberation Serif Italic": "truetype/liberation/LiberationSerif-Italic.ttf",
    "Linux Libertine": "opentype/linux-libertine/LinLibertine_R.otf",
    "Z003 script": "opentype/urw-base35/Z003-MediumItalic.otf",
    "Lobster": "opentype/lobster/lobster.otf",
    "Dancing Script": "opentype/dancingscript/DancingScript-Regular.otf",
    "Old Standard Italic": "truetype/fonts-oldstandard/OldStandard-Italic.ttf",
    "Comfortaa": "truetype/comfortaa/Comfortaa-Regular.ttf",
}


def glyphs(font: str, cap_mm: float) -> Iterator[tuple[str, MultiPolygon]]:
    """The alphabet of a font at a cap height, y down, baseline at 0."""
    path = FOLDER / (TUNING | JUDGING)[font]
    for letter in ALPHABET:
        yield letter, _outline(path, letter, cap_mm)


@cache
def _font(path: Path) -> tuple[TTFont, Any, dict[int, str], float]:
    font = TTFont(path)
    shapes, names = font.getGlyphSet(), font.getBestCmap()
    return font, shapes, names, _flat(shapes, names[ord("H")]).bounds[3]


def _outline(path: Path, letter: str, cap_mm: float) -> MultiPolygon:
    _, shapes, names, cap = _font(path)
    size = cap_mm / cap
    return affine_transform(_flat(shapes, names[ord(letter)]), [size, 0.0, 0.0, -size, 0.0, 0.0])


def _flat(shapes: Any, name: str) -> MultiPolygon:
    """A glyph's area: what its contours wind about in one sense, less those of the other sense."""
    pen = DecomposingRecordingPen(shapes)
    shapes[name].draw(pen)
    rings = [Polygon(ring) for ring in _contours(pen.value) if len(ring) > 2]
    sense = [shapely.is_ccw(ring.exterior) for ring in rings]
    outer = sense[int(np.argmax([ring.area for ring in rings]))]
    body = shapely.union_all([shapely.make_valid(r) for r, s in zip(rings, sense, strict=True) if s == outer])
    holes = shapely.union_all([shapely.make_valid(r) for r, s in zip(rings, sense, strict=True) if s != outer])
    area = shapely.difference(body, holes)
    return MultiPolygon([p for p in shapely.get_parts(area) if isinstance(p, Polygon)])


def _contours(record: list[tuple[str, tuple[Any, ...]]]) -> Iterator[list[tuple[float, float]]]:
    ring: list[tuple[float, float]] = []
    for verb, given in record:
        if verb == "moveTo":
            ring = [given[0]]
        elif verb == "lineTo":
            ring.append(given[0])
        elif verb == "curveTo":
            ring.extend(_curve([ring[-1], *given]))
        elif verb == "qCurveTo":
            if given[-1] is None:  # a contour without a point on the curve
                start = tuple((np.array(given[0]) + given[-2]) / 2.0)
                ring, given = [start], (*given[:-1], start)
            for control, end in _quadratics(given):
                ring.extend(_curve([ring[-1], control, end]))
        else:
            yield ring


def _quadratics(given: tuple[Any, ...]) -> Iterator[tuple[Any, Any]]:
    """TrueType's chain of off-curve points as single curves (control, end)."""
    controls = list(given[:-1])
    for k, control in enumerate(controls):
        last = k + 1 == len(controls)
        following = given[-1] if last else controls[k + 1]
        yield control, following if last else tuple((np.array(control) + following) / 2.0)
    if not controls:
        yield given[-1], given[-1]


def _curve(points: list[Any]) -> list[tuple[float, float]]:
    """A Bézier curve's points after the first (de Casteljau)."""
    share = np.linspace(0.0, 1.0, STEPS + 1)[1:, None, None]
    level = np.broadcast_to(np.array(points, dtype=np.float64), (STEPS, len(points), 2))
    while level.shape[1] > 1:
        level = level[:, :-1] + share * (level[:, 1:] - level[:, :-1])
    return [tuple(spot) for spot in level[:, 0]]
