"""One SVG file to one ``Drawing``: the passes of this room, in order."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import shapely
from lxml import etree

from pipeline.errors import ArtworkError
from pipeline.losses import leaving_out, left_out
from pipeline.model import Drawing, Note
from pipeline.read import colour, tidy
from pipeline.read.blend import Item, composited
from pipeline.read.context import Context, Reading
from pipeline.read.document import Document, load, namespace
from pipeline.read.elements import ElementWalk
from pipeline.read.matrix import Matrix, finite, times
from pipeline.read.notes import Notes
from pipeline.read.settings import ReadSettings
from pipeline.read.sheet import UNSIZED, Sheet, sheet_of
from pipeline.read.sizes import MM_PER_PX, Measure, fitted
from pipeline.read.style import ROOT, Cascade


def read_drawing(path: Path, settings: ReadSettings, note: Note, width_mm: float | None = None) -> Drawing:
    """The shapes that the SVG (or svgz) file at ``path`` paints, bottom first, absolute and in mm.

    With ``width_mm`` everything is scaled so that the viewport has that width. Trouble lived with goes to
    ``note``; ``ArtworkError`` where nothing can be sewn. Painting follows W3C SVG 2; lengths W3C CSS Values.
    """
    notes = Notes()
    try:
        document = load(path, int(settings.most_megabytes * 1e6))
        return _read(document, settings, notes, width_mm)
    except (RecursionError, MemoryError, etree.LxmlError) as error:
        raise ArtworkError(
            f"The drawing is too large or too deeply nested to be read ({type(error).__name__}); simplify it."
        ) from error
    finally:
        notes.hand_over(note)


def _read(document: Document, settings: ReadSettings, notes: Notes, width_mm: float | None) -> Drawing:
    root = document.root
    ids: dict[str, etree._Element] = {}
    for element in root.iter("*"):
        if ident := element.get("id"):
            ids.setdefault(ident, element)
    job = Reading(ids, Cascade(root, notes), notes, settings)
    if not namespace(root):
        words = "The svg element lacks xmlns, so that browsers show nothing; it is read as SVG all the same: "
        notes.add("namespace-assumed", "warning", "svg", words + "check it.")
    sheet = sheet_of(root) or _measured(root, job, notes)
    size = _size(sheet, settings, width_mm)
    width, height = sheet.width * size, sheet.height * size
    items = _items(root, sheet, job, size)
    ground = colour.unhexed(settings.ground_colour)
    items, seen, given = leaving_out(
        items,
        lambda item: item.element,
        lambda kept, _: _on_page(kept, ground, width, height),
        notes.take,
        lambda item, fault: left_out(item.element, None, item.area, fault),
    )
    _tell_opacity(given, notes)
    if items and not seen:
        raise ArtworkError(
            f"All that the drawing paints lies outside its page of {width:.1f} × {height:.1f} mm; "
            "move it onto the page, or give the svg element a viewBox around it."
        )
    shapes = tidy.shapes(tidy.without_page(seen, width, height, settings, notes), settings, notes)
    if not shapes:
        raise ArtworkError(_nothing(notes))
    if width_mm is None and size == MM_PER_PX:
        _tell_assumed(sheet, notes)
    _tell_size(width, height, settings, notes)
    return Drawing(document.name, document.sha256, width, height, shapes)


def _on_page(
    items: Sequence[Item], ground: colour.Rgb, width: float, height: float
) -> tuple[list[Item], list[Item], dict[str, list[str]]]:
    """``items`` all opaque, what of them lies in the viewport, and the colours given per translucent element."""
    opaque, given = composited(list(items), ground)
    return opaque, tidy.inside(opaque, width, height), given


def _size(sheet: Sheet, settings: ReadSettings, width_mm: float | None) -> float:
    """How many mm a px is sewn as: by the asked width, else fitted into the asked box, else as CSS says."""
    if width_mm is not None:
        return width_mm / sheet.width
    rooms = (settings.fit_width_mm, sheet.width), (settings.fit_height_mm, sheet.height)
    return min((room / side for room, side in rooms if room > 0), default=MM_PER_PX)


def _measured(root: etree._Element, job: Reading, notes: Notes) -> Sheet:
    """The viewport of a file that states none: what it paints, measured by drawing it once."""
    items = _items(root, Sheet(*UNSIZED, None), Reading(job.ids, job.cascade, Notes(), job.settings), MM_PER_PX)
    if not items:
        raise ArtworkError(_nothing(notes))
    x0, y0, x1, y1 = (side / MM_PER_PX for side in shapely.total_bounds([item.area for item in items]))
    doubt = "The drawing states no size, so it is taken to be as large as what it paints"
    return Sheet(x1 - x0, y1 - y0, (x0, y0, x1 - x0, y1 - y0), doubt)


def _items(root: etree._Element, sheet: Sheet, job: Reading, size: float) -> list[Item]:
    fit, _ = fitted(sheet.box, sheet.width, sheet.height, root.get("preserveAspectRatio") or "")
    matrix: Matrix = times((size, 0, 0, size, 0, 0), fit)
    if not finite(matrix):
        raise ArtworkError("The drawing's viewBox is out of range; give the svg element a real size.")
    job.mm_per_px = size
    user = (sheet.box[2], sheet.box[3]) if sheet.box else (sheet.width, sheet.height)
    style = job.cascade.style(root, ROOT, "svg", Measure(*user))
    if style.get("display") == "none":
        return []
    measure = Measure(*user, style.font, style.font)
    context = Context(matrix, measure, style, "svg")
    return ElementWalk(job).root(root, context)


def _tell_opacity(given: dict[str, list[str]], notes: Notes) -> None:
    for element, shades in given.items():
        shown = ", ".join(shades[:4]) + (" and others" if len(shades) > 4 else "")
        cut = "one colour for each that lies beneath: " if len(shades) > 1 else ""
        words = f"{element}: thread is opaque, so this translucent shape is sewn as seen, {cut}{shown}."
        notes.add("opacity-blended", "note", element, words)


def _tell_assumed(sheet: Sheet, notes: Notes) -> None:
    """What of the size the file doesn't plainly say, and how to say it."""
    size = f"{sheet.width * MM_PER_PX:.1f} × {sheet.height * MM_PER_PX:.1f} mm"
    if sheet.doubt:
        remedy = "write width and height in mm into the svg element, or use --width."
        notes.add("size-assumed", "warning", "svg", f"{sheet.doubt}, {size} (96 px an inch); {remedy}")
    elif sheet.slip:
        notes.add("size-assumed", "note", "svg", f"{sheet.slip}: it is sewn {size}; write it as SVG has it.")


def _tell_size(width: float, height: float, settings: ReadSettings, notes: Notes) -> None:
    if max(width, height) < settings.least_size_mm:
        remedy = "give its width with --width, or set read.fit_to_hoop to fill the machine's hoop."
        words = f"The drawing would be sewn only {width:.1f} × {height:.1f} mm large; {remedy}"
        notes.add("size-implausible", "warning", "svg", words)


def _nothing(notes: Notes) -> str:
    """Why nothing can be sewn, with a word on what was left out."""
    lost = [code for code in notes.found if code.endswith(("-left-out", "-broken", "-missing", "-cycle"))]
    if not lost:
        return "The drawing paints nothing that can be sewn; check that its shapes have a fill or a stroke."
    first = notes.found[lost[0]][0][1].message
    return f"The drawing paints nothing that can be sewn; the first thing left out: {first}"
