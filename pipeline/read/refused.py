"""What cloth or this project cannot show: one finding each, naming the element and what is lost."""

from __future__ import annotations

from lxml import etree

from pipeline.read.context import Context, Reading
from pipeline.read.style import words


def tell(tag: str, element: etree._Element, context: Context, job: Reading) -> None:
    """A finding for an element that isn't drawn."""
    name = context.name
    if tag == "image":
        size = _image_mm2(element, context)
        shown = f", which would cover {size:.0f} mm²," if size else ""
        job.notes.add(
            "image-left-out",
            "warning",
            name,
            f"{name}: the picture{shown} cannot be sewn and is left out; redraw it as flat shapes.",
        )
    elif tag == "foreignObject":
        job.notes.add(
            "element-left-out",
            "warning",
            name,
            f"{name}: foreign content (“{words(element)}”) is left out; draw it as SVG shapes.",
        )
    else:
        job.notes.add(
            "element-left-out",
            "warning",
            name,
            f"{name}: <{tag[:30]}> is no element that is drawn, so it and what it contains are left out.",
        )


def text(element: etree._Element, context: Context, job: Reading, fault: str) -> None:
    """A finding for words that aren't drawn."""
    if context.style.get("visibility") == "visible":
        font = context.style.get("font-family") or "the default font"
        job.notes.add(
            "text-left-out",
            "warning",
            context.name,
            f"{context.name}: the text “{words(element)}” in {font[:40]} is left out, because {fault}; "
            "turn it into outlines.",
        )


def effects(context: Context, job: Reading) -> None:
    """Findings for effects that are dropped."""
    name, style = context.name, context.style
    if style.get("filter") != "none":
        job.notes.add(
            "filter-left-out",
            "warning",
            name,
            f"{name}: its filter (blur, shadow or the like) cannot be sewn; it is drawn without.",
        )
    if style.get("mix-blend-mode") != "normal":
        job.notes.add(
            "blend-mode-left-out",
            "warning",
            name,
            f"{name}: its blend mode “{style.get('mix-blend-mode')[:20]}” is not followed; paint what you see.",
        )


def _image_mm2(element: etree._Element, context: Context) -> float:
    measure = context.measure
    try:
        w = measure.length(element.get("width") or "0", "x")
        h = measure.length(element.get("height") or "0", "y")
    except ValueError:
        return 0.0
    a, b, c, d, _, _ = context.matrix
    return abs(w * h * (a * d - b * c))
