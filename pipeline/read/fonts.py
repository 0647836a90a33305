"""Fonts of the machine or of a folder: which face a family name means, and its glyphs as curves (fontTools).

Nothing is fetched. A font file that cannot be read is passed over: it is as good as not there.
"""

from __future__ import annotations

import io
import sys
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from fontTools.pens.basePen import BasePen
from fontTools.ttLib import TTCollection, TTFont

from pipeline.read.outline import Curves, Pen

ENDINGS = (".ttf", ".otf", ".ttc", ".otc")
# What a browser shows for a generic family differs by machine; these are tried in order (common practice).
GENERIC = {
    "serif": ("times new roman", "times", "liberation serif", "dejavu serif", "noto serif"),
    "sans-serif": ("arial", "helvetica", "liberation sans", "dejavu sans", "noto sans"),
    "monospace": ("courier new", "courier", "liberation mono", "dejavu sans mono", "noto sans mono"),
}
# Files looked through at most in all folders together.
MOST_FILES = 20_000


@dataclass(frozen=True)
class Face:
    """One face: its file and place in it, its family as written, weight (100…900), whether slanted, width 1…9."""

    path: Path
    number: int
    family: str
    weight: int
    slanted: bool
    width: int


def machine_folders() -> tuple[Path, ...]:
    """Where this machine keeps its fonts."""
    home = Path.home()
    if sys.platform == "darwin":
        places = [Path("/System/Library/Fonts"), Path("/Library/Fonts"), home / "Library/Fonts"]
    elif sys.platform == "win32":
        places = [Path("C:/Windows/Fonts"), home / "AppData/Local/Microsoft/Windows/Fonts"]
    else:
        places = [Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), home / ".fonts"]
        places.append(home / ".local/share/fonts")
    return tuple(places)


def found(families: str, weight: int, slanted: bool, folder: str, machine: bool) -> Face | None:
    """The face for a CSS family list; those in ``folder`` come first. None where no family is here."""
    known = [faces(Path(folder))] if folder else []
    known += [faces(place) for place in machine_folders()] if machine else []
    for name in _names(families):
        for shelf in known:
            fitting = shelf.get(name, ())
            if fitting:
                return min(fitting, key=lambda face: _misfit(face, weight, slanted))
    return None


def _misfit(face: Face, weight: int, slanted: bool) -> tuple[int, str, int]:
    cost = 1000 * (face.slanted != slanted) + abs(face.weight - weight) + 200 * abs(face.width - 5)
    return cost, str(face.path), face.number


def _names(families: str) -> Iterator[str]:
    """The families of a list, lower case; a generic one as those that stand for it. None named means serif."""
    for part in families.split(",") if families.strip() else ["serif"]:
        name = part.strip().strip("\"'").strip().lower()
        yield from GENERIC.get(name, (name,))


@lru_cache(maxsize=16)
def faces(folder: Path) -> dict[str, tuple[Face, ...]]:
    """All faces in a folder and those below it, by family name in lower case."""
    shelf: dict[str, list[Face]] = {}
    try:
        paths = sorted(path for path in folder.rglob("*") if path.suffix.lower() in ENDINGS)
    except OSError:
        paths = []
    for path in paths[:MOST_FILES]:
        for name, face in _read(path):
            shelf.setdefault(name, []).append(face)
    return {name: tuple(members) for name, members in shelf.items()}


def _read(path: Path) -> list[tuple[str, Face]]:
    """The faces of one file with the names they go by."""
    made: list[tuple[str, Face]] = []
    try:
        collection = path.suffix.lower() in (".ttc", ".otc")
        data = io.BytesIO(path.read_bytes())
        fonts = TTCollection(data, lazy=True).fonts if collection else [TTFont(data, lazy=True)]
        for number, font in enumerate(fonts):
            style = font["OS/2"]
            names = {font["name"].getDebugName(ident) for ident in (1, 16)} - {None}
            slanted = bool(style.fsSelection & 1) or bool(font["head"].macStyle & 2)
            for name in sorted(names):
                face = Face(path, number, name, int(style.usWeightClass), slanted, int(style.usWidthClass))
                made.append((name.lower(), face))
            font.close()
    except Exception:  # fontTools raises whatever it meets in a damaged file
        return []
    return made


class Font:
    """A face opened: advances, kerning and glyph outlines in units of the em (1 = font size), y down."""

    def __init__(self, face: Face) -> None:
        self._font = TTFont(face.path, fontNumber=face.number if face.path.suffix.lower().endswith("c") else -1)
        self._size = float(self._font["head"].unitsPerEm)
        self._cmap = self._font.getBestCmap() or {}
        self._glyphs = self._font.getGlyphSet()
        self._pairs = _pair_tables(self._font)
        self._curves: dict[str, Curves | None] = {}
        post = self._font.get("post")
        self.underline = (
            (-post.underlinePosition / self._size, max(post.underlineThickness / self._size, 0.02))
            if post is not None
            else (0.1, 0.05)
        )

    def glyph(self, letter: str) -> str | None:
        """The name of a letter's glyph; None where the font lacks it."""
        return self._cmap.get(ord(letter)) or self._cmap.get(ord(unicodedata.normalize("NFC", letter)[0]))

    def advance(self, glyph: str) -> float:
        """How far the pen moves."""
        return float(self._glyphs[glyph].width) / self._size

    def kern(self, left: str, right: str) -> float:
        """How much closer (negative) or farther two glyphs stand than their advances say."""
        for table in self._pairs:
            value = _pair(table, left, right)
            if value is not None:
                return value / self._size
        return 0.0

    def outline(self, glyph: str) -> Curves | None:
        """The glyph's outline with its origin at (0, 0); None for a blank."""
        if glyph not in self._curves:
            pen = _Tracer(self._glyphs, self._size)
            self._glyphs[glyph].draw(pen)
            self._curves[glyph] = pen.made.outline()
        return self._curves[glyph]


@lru_cache(maxsize=32)
def opened(face: Face) -> Font | None:
    """The face ready for use; None where its file turns out to be damaged."""
    try:
        return Font(face)
    except Exception:  # as above
        return None


class _Tracer(BasePen):  # type: ignore[misc]
    """Draws a glyph into an ``Curves``."""

    def __init__(self, glyphs: Any, size: float) -> None:
        super().__init__(glyphs)
        self.made = Pen()
        self._scale = np.array([1 / size, -1 / size])
        self._here = self._home = (0.0, 0.0)

    def _placed(self, spot: tuple[float, float]) -> tuple[float, float]:
        return float(spot[0] * self._scale[0]), float(spot[1] * self._scale[1])

    def _moveTo(self, pt: tuple[float, float]) -> None:  # noqa: N802 (fontTools' name)
        self._here = self._home = self._placed(pt)
        self.made.begin()

    def _lineTo(self, pt: tuple[float, float]) -> None:  # noqa: N802
        to = self._placed(pt)
        self.made.line(self._here, to)
        self._here = to

    def _curveToOne(  # noqa: N802
        self, pt1: tuple[float, float], pt2: tuple[float, float], pt3: tuple[float, float]
    ) -> None:
        to = self._placed(pt3)
        self.made.bend_to(*self._here, *self._placed(pt1), *self._placed(pt2), *to)
        self._here = to

    def _closePath(self) -> None:  # noqa: N802
        self.made.close(self._here, self._home)
        self._here = self._home

    def _endPath(self) -> None:  # noqa: N802
        self._closePath()


def _pair_tables(font: TTFont) -> list[Any]:
    """The pair tables of the kerning feature (OpenType GPOS, lookup type 2), else the old kern table's."""
    tables: list[Any] = []
    if "GPOS" in font and font["GPOS"].table.FeatureList is not None:
        gpos = font["GPOS"].table
        wanted = {
            index
            for record in gpos.FeatureList.FeatureRecord
            if record.FeatureTag == "kern"
            for index in record.Feature.LookupListIndex
        }
        for index in sorted(wanted):
            for table in gpos.LookupList.Lookup[index].SubTable:
                inner = table.ExtSubTable if table.LookupType == 9 else table
                if inner.LookupType == 2:
                    tables.append(inner)
    if not tables and "kern" in font:
        tables = [table.kernTable for table in font["kern"].kernTables if hasattr(table, "kernTable")]
    return tables


def _pair(table: Any, left: str, right: str) -> float | None:
    """What one pair table says; None where the pair isn't in it."""
    if isinstance(table, dict):
        return table.get((left, right))
    if left not in table.Coverage.glyphs:
        return None
    if table.Format == 1:
        pairs = table.PairSet[table.Coverage.glyphs.index(left)].PairValueRecord
        value = next((pair.Value1 for pair in pairs if pair.SecondGlyph == right), None)
        return None if value is None else float(getattr(value, "XAdvance", 0) or 0)
    first, second = table.ClassDef1.classDefs.get(left, 0), table.ClassDef2.classDefs.get(right, 0)
    value = table.Class1Record[first].Class2Record[second].Value1
    return float(getattr(value, "XAdvance", 0) or 0) if value is not None else 0.0
