"""How large a file says that its drawing is: the root's width, height and viewBox (W3C SVG 2, chapter 8)."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from lxml import etree

from pipeline.errors import ArtworkError
from pipeline.read.declared import inline
from pipeline.read.sizes import Box, Measure, view_box

UNSIZED = (300.0, 150.0)
"""What a percentage is taken of while a drawing without any size is measured (CSS's replaced-element default)."""

RELATIVE = ("%", "vw", "vh", "vmin", "vmax")
"""Units of the window that shows a drawing; none shows it to a needle."""

WORDS = {
    "in": ("inch", "inches", '"', "″", "”", "''"),
    "mm": ("millimetre", "millimetres", "millimeter", "millimeters"),
    "cm": ("centimetre", "centimetres", "centimeter", "centimeters"),
    "pt": ("point", "points"),
    "px": ("pixel", "pixels"),
}
"""Other words that people write for units."""

_UNIT = {word: unit for unit, words in WORDS.items() for word in words}
_SLIP = re.compile(r"([+-]?\d+)(?:[.](\d+)|,(\d{1,2}))?\s*([^\s\d.,;]*)[.;]?")


@dataclass(frozen=True)
class Sheet:
    """The root viewport: its size in px, and the viewBox that is fitted into it.

    ``doubt`` says what had to be assumed because the file doesn't say it, ``slip`` what was read though it isn't
    written as SVG has it; both are beginnings of sentences, and empty if there is nothing to say.
    """

    width: float
    height: float
    box: Box | None
    doubt: str = ""
    slip: str = ""


@dataclass(frozen=True)
class _Side:
    """A side as the file has it: in px, None if it isn't stated or cannot be read, and what is odd about it."""

    px: float | None = None
    unread: str = ""
    slip: str = ""


def sheet_of(root: etree._Element) -> Sheet | None:
    """The viewport that the file states; None where it states too little. ``ArtworkError`` if it is of no size."""
    box = view_box(root.get("viewBox"))
    if root.get("viewBox") is not None and box is None:
        _refuse_empty_box(str(root.get("viewBox")))
    sides = [_side(root, name, box) for name in ("width", "height")]
    unread = " and ".join(side.unread for side in sides if side.unread)
    slip = " and ".join(side.slip for side in sides if side.slip)
    doubt = f"The drawing's {unread} cannot be read" if unread else ""
    width, height = (side.px for side in sides)
    if width is None and height is None:
        said = doubt or "The drawing states no size in any unit"
        return Sheet(box[2], box[3], box, f"{said}, so its viewBox is taken to be in px") if box else None
    if width is None or height is None:
        if box is None:
            return None
        width = width if width is not None else float(height or 0) * box[2] / box[3]
        height = height if height is not None else width * box[3] / box[2]
        doubt = f"{doubt}, so it follows from the other side and the viewBox" if doubt else ""
    if not (math.isfinite(width) and math.isfinite(height) and min(width, height) > 1e-6):
        raise ArtworkError("The drawing's width or height is zero or negative; give the svg element a real size.")
    return Sheet(width, height, box, doubt, f"The drawing's {slip}" if slip else "")


def _refuse_empty_box(text: str) -> None:
    parts = text.replace(",", " ").split()
    try:
        sides = [float(part) for part in parts[2:4]]
    except ValueError:
        return
    if len(parts) == 4 and not min(sides) > 0:
        raise ArtworkError(
            "The drawing's viewBox is of zero or negative size; give the svg element a real viewBox."
        )


def _side(root: etree._Element, name: str, box: Box | None) -> _Side:
    """One side of the root; a style says it before the attribute, as in CSS, if it says a length."""
    text = inline(root.get("style") or "")[0].get(name, "")
    if not text or not _absolute(text):
        text = (root.get(name) or "").strip()
    if not _absolute(text):
        return _Side()
    plain = plainly(text)
    try:
        px = Measure(*UNSIZED).length(plain, "x")
    except ValueError as error:
        if box is not None:
            return _Side(unread=f"{name} “{text[:24]}”")
        raise ArtworkError(
            f"The drawing's {name} cannot be used: {error}; give the svg element a real size."
        ) from error
    return _Side(px, slip="" if plain == text else f"{name} “{text[:24]}” is read as {plain}")


def _absolute(text: str) -> bool:
    """Whether a side is said at all, not left to whoever shows the drawing."""
    return bool(text) and text.lower() != "auto" and not text.lower().endswith(RELATIVE)


def plainly(text: str) -> str:
    """A length as SVG writes it where a decimal comma or a unit's other name says what is meant; else ``text``.

    A comma before three digits may part thousands: that says nothing.
    """
    found = _SLIP.fullmatch(text)
    if found is None:
        return text
    whole, point, comma, unit = found.groups()
    decimals = point or comma
    plain = f"{whole}{'.' if decimals else ''}{decimals or ''}{_UNIT.get(unit.lower(), unit)}"
    odd = comma is not None or unit.lower() in _UNIT or text[-1] in ".;"
    return plain if odd else text
