"""What cloth or this project cannot show: one finding each, naming the element and what is lost."""

from __future__ import annotations

from lxml import etree

from pipeline.read.context import Context, Reading
from pipeline.read.style import words


def tell(tag: str, element: etree._Element, context: Context, job: Reading) -> None:
    """A finding for an element that isn't drawn."""
    if tag == "image":
        size = _image_mm2(element, context)
        shown = f", which would cover {size:.0f} mm²," if size else ""
        fault = f"the picture{shown} cannot be sewn and is left out; redraw it as flat shapes."
        job.tell("image-left-out", "warning", context, fault)
    else:
        fault = f"<{tag[:30]}> is no element that is drawn, so it and what it contains are left out."
        if tag == "foreignObject":
            fault = f"foreign content (“{words(element)}”) is left out; draw it as SVG shapes."
        job.tell("element-left-out", "warning", context, fault)


def text(element: etree._Element, context: Context, job: Reading, fault: str) -> None:
    """A finding for words that aren't drawn."""
    if context.style.get("visibility") == "visible":
        font = (context.style.get("font-family") or "the default font")[:40]
        said = f"the text “{words(element)}” in {font} is left out, because {fault}; turn it into outlines."
        job.tell("text-left-out", "warning", context, said)


def effects(context: Context, job: Reading) -> None:
    """Findings for effects that are dropped."""
    if context.style.get("filter") != "none":
        fault = "its filter (blur, shadow or the like) cannot be sewn; it is drawn without."
        job.tell("filter-left-out", "warning", context, fault)
    mode = context.style.get("mix-blend-mode")
    if mode != "normal":
        fault = f"its blend mode “{mode[:20]}” is not followed; paint what you see."
        job.tell("blend-mode-left-out", "warning", context, fault)


def _image_mm2(element: etree._Element, context: Context) -> float:
    try:
        w, h = context.measure.pair(element.get("width") or "0", element.get("height") or "0")
    except ValueError:
        return 0.0
    a, b, c, d, _, _ = context.matrix
    return abs(w * h * (a * d - b * c))
