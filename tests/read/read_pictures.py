"""Pictures to judge reading by: a reference renderer's, and a drawing's shapes painted flat.

Reference: resvg (through PyPI ``resvg_py``), in a process of its own, without anti-aliasing.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from shapely.geometry import MultiPolygon

from pipeline.model import Drawing, Points
from pipeline.read.colour import difference, lab

Picture = NDArray[np.uint8]

_CHILD = """
import sys, pathlib, resvg_py
folder = pathlib.Path(sys.argv[1])
for line in (folder / "list.txt").read_text().splitlines():
    name, width = line.split()
    fonts = sys.argv[2] == "fonts"
    try:
        data = bytes(resvg_py.svg_to_bytes(
            svg_path=str(folder / name), width=int(width), dpi=96.0, skip_system_fonts=not fonts, languages=["en"],
            background="white",
            style_sheet="*{shape-rendering:crispEdges !important}",
        ))
        (folder / (name + ".png")).write_bytes(data)
    except Exception as error:
        (folder / (name + ".txt")).write_text(repr(error))
"""


def references(files: list[tuple[bytes, int]], fonts: bool = False) -> list[Picture | None]:
    """What the reference renderer paints for (SVG, width in px), on white; None where it fails.

    With ``fonts`` it may use those of the machine.
    """
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        for i, (data, _) in enumerate(files):
            (folder / f"{i}.svg").write_bytes(data)
        (folder / "list.txt").write_text("\n".join(f"{i}.svg {width}" for i, (_, width) in enumerate(files)))
        subprocess.run(
            [sys.executable, "-c", _CHILD, place, "fonts" if fonts else "none"],
            timeout=600,
            check=False,
            capture_output=True,
        )
        found: list[Picture | None] = []
        for i in range(len(files)):
            picture = folder / f"{i}.svg.png"
            found.append(np.array(Image.open(picture).convert("RGB")) if picture.exists() else None)
        return found


def painted(drawing: Drawing, shape: tuple[int, ...]) -> Picture:
    """The drawing's shapes as flat polygons, bottom first, on white, ``shape`` (rows, columns) large."""
    rows, columns = shape[:2]
    size = np.array([columns / drawing.width_mm, rows / drawing.height_mm])
    canvas = Image.new("RGB", (columns, rows), "white")
    for one in drawing.shapes:
        x0, y0, x1, y1 = one.area.bounds
        left, top = (int(v) for v in np.floor(size * (x0, y0)))
        wide, high = (int(v) + 2 for v in np.ceil(size * (x1, y1)) - (left, top))
        canvas.paste(one.colour, (left, top), _mask(one.area, size, (left, top), (wide, high)))
    return np.array(canvas)


def _mask(area: MultiPolygon, size: Points, corner: tuple[int, int], window: tuple[int, int]) -> Image.Image:
    """Which pixel centres lie in ``area``: drawn three times as fine, because Pillow also inks what it touches."""
    mask = Image.new("L", (3 * window[0], 3 * window[1]), 0)
    pen = ImageDraw.Draw(mask)
    for polygon in sorted(area.geoms, key=lambda p: -p.area):
        for loop, ink in [(polygon.exterior, 255), *((hole, 0) for hole in polygon.interiors)]:
            spots = (np.array(loop.coords)[:, :2] * size - corner) * 3 - 0.5
            pen.polygon([tuple(spot) for spot in spots], fill=ink)
    return Image.fromarray(np.array(mask)[1::3, 1::3])


def agreement(mine: Picture, theirs: Picture, apart: float = 5.0) -> float:
    """The share of pixels farther than 1 px from an edge of ``theirs`` whose colours differ by under ``apart``."""
    judged = ~_edges(theirs)
    if not judged.any():
        return 1.0
    both = np.hstack([mine[judged], theirs[judged]])
    unlike = both[np.any(both[:, :3] != both[:, 3:], axis=1)].astype(np.int64)
    codes, count = np.unique(unlike @ 256 ** np.arange(6), return_counts=True)
    pairs = codes[:, None] // 256 ** np.arange(6) % 256 / 255.0
    far = difference(lab(pairs[:, :3]), lab(pairs[:, 3:]))
    return 1.0 - float(count[far >= apart].sum() / len(both))


def _edges(picture: Picture) -> NDArray[np.bool_]:
    """Pixels with another colour within 1 px (diagonals included)."""
    edge = np.zeros(picture.shape[:2], dtype=bool)
    rows, columns = edge.shape
    padded = np.pad(picture, ((1, 1), (1, 1), (0, 0)), mode="edge")
    for dy in range(3):
        for dx in range(3):
            edge |= np.any(padded[dy : dy + rows, dx : dx + columns] != picture, axis=2)
    return edge
