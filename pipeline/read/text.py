"""Text as outlines (W3C SVG 2, chapter 11): letters one by one, in chunks, along straight lines.

Kerning is the font's own. Ligatures, right-to-left and joined scripts, vertical text and text on a path are
not drawn: such text is left out with a finding.
"""

from __future__ import annotations

import math
import unicodedata
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from lxml import etree

from pipeline.read import refused
from pipeline.read.context import Context, Reading
from pipeline.read.document import local
from pipeline.read.outline import Curves, rectangle
from pipeline.read.sizes import Axis, numbers
from pipeline.read.style import Style, words

if TYPE_CHECKING:
    from pipeline.read.fonts import Font

_LISTS: tuple[tuple[str, Axis], ...] = (("x", "x"), ("y", "y"), ("dx", "x"), ("dy", "y"))
_WEIGHTS = {"normal": 400, "bold": 700, "bolder": 700, "lighter": 300}
# Letters in one text beyond this are no design.
MOST_LETTERS = 10_000
_SPACE = "{http://www.w3.org/XML/1998/namespace}space"


@dataclass(frozen=True, eq=False)
class Run:
    """Neighbouring letters of one element as one outline in user units, with the context to paint them in."""

    outline: Curves
    context: Context
    element: etree._Element


@dataclass(eq=False)
class _Letter:
    """One letter that shows, whose run it belongs to, and where the file puts it."""

    sign: str
    owner: int
    places: dict[str, float] = field(default_factory=dict)
    at: tuple[float, float] = (0.0, 0.0)


class _RefusedError(Exception):
    """Why a text cannot be drawn."""


def runs(element: etree._Element, context: Context, job: Reading) -> list[Run]:
    """The runs of a ``text`` element in painting order; nothing, with a finding, where it cannot be drawn."""
    if not words(element):
        return []
    try:
        laid = _Layout(job)
        laid.gather(element, context, top=True)
        made, used = laid.drawn()
    except _RefusedError as fault:
        refused.text(element, context, job, str(fault))
        return []
    if made:
        said = f"“{words(element)}” is drawn in {', '.join(used)} as found on this machine; "
        job.tell("text-drawn", "note", context, said + "turn it into outlines to be independent of fonts.")
    return made


class _Layout:
    """Gathers the letters of one text and sets them."""

    def __init__(self, job: Reading) -> None:
        self._job = job
        self._letters: list[_Letter] = []
        self._owners: list[tuple[Context, etree._Element, bool]] = []
        self._fonts: dict[int, tuple[Font, str]] = {}

    def gather(self, element: etree._Element, context: Context, top: bool = False) -> None:
        """The letters of an element and all that is in it, blanks joined as CSS does."""
        if context.style.get("writing-mode").lower() not in ("horizontal-tb", "lr", "lr-tb"):
            raise _RefusedError("it runs downwards")
        if element.get("textLength") is not None:
            self._ignored(context, "textLength")
        if context.style.get("dominant-baseline") not in ("auto", "alphabetic"):
            self._ignored(context, "dominant-baseline")
        first = len(self._letters)
        keep = _keeps_blanks(element)
        self._add(element.text, element, context, keep, top)
        for child in element:
            if isinstance(child.tag, str):
                self._child(child, context)
            self._add(child.tail, element, context, keep, top)
        self._place(element, context, first)
        if top:
            while self._letters and self._letters[-1].sign == " " and not keep:
                self._letters.pop()

    def _child(self, child: etree._Element, context: Context) -> None:
        kind = local(child)
        if kind in ("tspan", "a"):
            style = self._job.cascade.style(child, context.style, context.name, context.measure)
            if style.get("display") != "none":
                measure = replace(context.measure, font=style.font)
                self.gather(child, replace(context, style=style, measure=measure))
        elif kind in ("textPath", "tref"):
            raise _RefusedError("it follows a path" if kind == "textPath" else "it stands elsewhere")

    def _add(self, text: str | None, element: etree._Element, context: Context, keep: bool, top: bool) -> None:
        if not text:
            return
        self._owners.append((context, element, top))
        for sign in text:
            sign = " " if sign in "\t\n\r" else sign
            blank = not self._letters or self._letters[-1].sign == " "
            if sign == " " and blank and not keep:
                continue
            if unicodedata.bidirectional(sign) in ("R", "AL") or unicodedata.category(sign)[0] == "M":
                raise _RefusedError("its script needs joined or combined letters")
            self._letters.append(_Letter(sign, len(self._owners) - 1))
        if len(self._letters) > MOST_LETTERS:
            raise _RefusedError("it is too long")

    def _place(self, element: etree._Element, context: Context, first: int) -> None:
        """Hand an element's x, y, dx, dy and rotate to its letters; inner elements came first and win."""
        mine = self._letters[first:]
        for name, axis in _LISTS:
            parts = (element.get(name) or "").replace(",", " ").split()
            for letter, part in zip(mine, parts, strict=False):
                try:
                    letter.places.setdefault(name, context.measure.length(part, axis))
                except ValueError:
                    self._ignored(context, name)
        turns = (element.get("rotate") or "").replace(",", " ").split()
        for i, letter in enumerate(mine if turns else ()):
            try:
                letter.places.setdefault("rotate", numbers(turns[min(i, len(turns) - 1)])[0])
            except (ValueError, IndexError):
                self._ignored(context, "rotate")

    def _ignored(self, context: Context, name: str) -> None:
        self._job.tell("value-ignored", "warning", context, f"its {name} is ignored; check the words.")

    def _font(self, owner: int) -> Font:
        if owner not in self._fonts:
            from pipeline.read import fonts  # fontTools takes long to load, and most artwork has no words

            style = self._owners[owner][0].style
            settings = self._job.settings
            weight, slanted = _weight(style), style.get("font-style").lower() not in ("normal", "")
            face = fonts.found(
                style.get("font-family"), weight, slanted, settings.font_folder, settings.machine_fonts
            )
            font = fonts.opened(face) if face else None
            if face is None or font is None:
                raise _RefusedError("that font is not on this machine")
            self._fonts[owner] = font, face.path.name
        return self._fonts[owner][0]

    def drawn(self) -> tuple[list[Run], list[str]]:
        """The runs, and the font files they are drawn with."""
        self._set()
        pieces: dict[int, list[Curves]] = {}
        for letter in self._letters:
            context, _, _ = self._owners[letter.owner]
            size = context.style.font
            glyph = self._glyph(letter)
            outline = self._font(letter.owner).outline(glyph) if glyph else None
            if outline is not None:
                turn = math.radians(letter.places.get("rotate", 0.0))
                map_ = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]]) * size
                curves = outline.curves @ map_ + np.array(letter.at)
                pieces.setdefault(letter.owner, []).append(replace(outline, curves=curves))
        for owner, line in self._lines():
            pieces.setdefault(owner, []).insert(0, line)
        made = []
        for owner in sorted(pieces):
            context, element, top = self._owners[owner]
            if top:
                # What the text itself does to all of its letters is done to them together, by the walk.
                context = replace(context, style=Style(context.style.inherited, {}, context.style.font))
            made.append(Run(_joined(pieces[owner]), context, element))
        return made, sorted({self._fonts[owner][1] for owner in pieces})

    def _glyph(self, letter: _Letter) -> str | None:
        font = self._font(letter.owner)
        glyph = font.glyph(letter.sign)
        if glyph is None and letter.sign.strip():
            raise _RefusedError(f"its font has no “{letter.sign}”")
        return glyph

    def _set(self) -> None:
        """Place every letter: chunks begin where the file gives an x or y, and are shifted by text-anchor."""
        x = y = 0.0
        chunk: list[_Letter] = []
        start = 0.0
        before: tuple[str, Font] | None = None
        for letter in self._letters:
            places = letter.places
            if "x" in places or "y" in places:
                self._anchored(chunk, x - start)
                chunk, before = [], None
                x, y = places.get("x", x), places.get("y", y)
                start = x
            x, y = x + places.get("dx", 0.0), y + places.get("dy", 0.0)
            context = self._owners[letter.owner][0]
            font, glyph = self._font(letter.owner), self._glyph(letter)
            if before and glyph and before[1] is font and "dx" not in places:
                x += font.kern(before[0], glyph) * context.style.font
            letter.at = (x, y)
            chunk.append(letter)
            width = font.advance(glyph) if glyph else 0.3
            x += width * context.style.font + self._spacing(context, "letter-spacing")
            x += self._spacing(context, "word-spacing") if letter.sign == " " else 0.0
            before = (glyph, font) if glyph else None
        self._anchored(chunk, x - start)

    def _anchored(self, chunk: list[_Letter], width: float) -> None:
        if chunk:
            anchor = self._owners[chunk[0].owner][0].style.get("text-anchor").lower()
            shift = {"middle": -width / 2, "end": -width}.get(anchor, 0.0)
            for letter in chunk:
                letter.at = (letter.at[0] + shift, letter.at[1])

    def _spacing(self, context: Context, name: str) -> float:
        text = context.style.get(name)
        if text == "normal":
            return 0.0
        try:
            return context.measure.length(text, "x")
        except ValueError:
            self._ignored(context, name)
            return 0.0

    def _lines(self) -> list[tuple[int, Curves]]:
        """The lines of underlined runs."""
        made = []
        for owner, (context, _, _) in enumerate(self._owners):
            letters = [letter for letter in self._letters if letter.owner == owner]
            if letters and "underline" in context.style.get("text-decoration").lower():
                size, font = context.style.font, self._font(owner)
                low, thick = font.underline
                last = letters[-1]
                glyph = font.glyph(last.sign)
                width = last.at[0] + (font.advance(glyph) * size if glyph else 0.0) - letters[0].at[0]
                line = rectangle(letters[0].at[0], letters[0].at[1] + low * size, width, thick * size, 0, 0)
                if line is not None:
                    made.append((owner, line))
        return made


def _keeps_blanks(element: etree._Element) -> bool:
    """Whether ``xml:space`` (of the element or the nearest around it) says to keep every blank."""
    nearest: etree._Element | None = element
    while nearest is not None:
        said = nearest.get(_SPACE)
        if said is not None:
            return said == "preserve"
        nearest = nearest.getparent()
    return False


def _weight(style: Style) -> int:
    text = style.get("font-weight").lower()
    if text in _WEIGHTS:
        return _WEIGHTS[text]
    return int(text) if text.isdecimal() and 1 <= int(text) <= 1000 else 400


def _joined(parts: list[Curves]) -> Curves:
    first, start = [], 0
    for part in parts:
        first += [start + index for index in part.first]
        start += len(part.curves)
    return Curves(
        np.concatenate([part.curves for part in parts]),
        np.concatenate([part.straight for part in parts]),
        tuple(first),
        tuple(closed for part in parts for closed in part.closed),
    )
