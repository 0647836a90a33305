"""The walk through the element tree: what is painted, bottom first.

An explicit stack instead of recursion, so that no nesting overflows; only references (use within use, masks,
patterns) nest, and those are counted.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import shapely
from lxml import etree

from pipeline.errors import OverlayError
from pipeline.read import refused, shapes, text
from pipeline.read.area import frame
from pipeline.read.blend import INVISIBLE, Item, clipped, flattened
from pipeline.read.context import Context, Reading, href
from pipeline.read.document import SVG, local, namespace
from pipeline.read.draw import Painter
from pipeline.read.effects import box_of, clip_region, masked, transform_of
from pipeline.read.matrix import finite, times
from pipeline.read.sizes import Box, fitted, view_box
from pipeline.read.style import title

# Elements that paint nothing where they stand.
# fmt: off
SILENT = frozenset({
    "defs", "symbol", "clipPath", "mask", "marker", "pattern", "linearGradient", "radialGradient", "stop",
    "filter", "title", "desc", "metadata", "style", "script", "animate", "animateTransform", "animateMotion",
    "animateColor", "set", "mpath", "view", "cursor", "font", "font-face", "color-profile", "namedview",
    "solidColor", "hatch",
})
# fmt: on
Task = Callable[[], None]


@dataclass(frozen=True, eq=False)
class _Visit:
    """An element still to be drawn, its would-be name, and where its items go."""

    element: etree._Element
    parent: Context
    name: str
    out: list[Item]


Tasks = Sequence[_Visit | Task]


class ElementWalk:
    """Draws elements into items."""

    def __init__(self, job: Reading) -> None:
        self.job = job
        self._painter = Painter(job, self.content)

    def root(self, root: etree._Element, context: Context) -> list[Item]:
        """The items of the whole document, with what the outermost element does to them."""
        out: list[Item] = []
        self._finish(self.content(root, context), context, out)
        return out

    def content(self, owner: etree._Element, context: Context) -> list[Item]:
        """The items of everything inside ``owner``, in mm, opacities not yet blended with what lies beneath."""
        out: list[Item] = []
        stack: list[_Visit | Task] = list(reversed(self._children(owner, context, out)))
        while stack:
            task = stack.pop()
            if isinstance(task, _Visit):
                stack.extend(reversed(self._visit(task)))
            else:
                task()
        return out

    def _children(self, owner: etree._Element, context: Context, out: list[Item]) -> list[_Visit]:
        visits: list[_Visit] = []
        count: dict[str, int] = {}
        for child in owner:
            if isinstance(child.tag, str):
                tag = local(child)
                count[tag] = count.get(tag, 0) + 1
                visits.append(_Visit(child, context, f"{context.name}/{tag}[{count[tag]}]", out))
        return visits

    def _visit(self, visit: _Visit) -> Tasks:
        """Draw one element, or lay out what has to be done for it."""
        element, parent, job = visit.element, visit.parent, self.job
        tag = local(element)
        if tag in SILENT or namespace(element) not in (SVG, ""):
            return []
        job.count_element(parent.copied)
        name = visit.name if parent.copied else element.get("id") or visit.name
        style = job.cascade.style(element, parent.style, name, parent.measure)
        if style.get("display") == "none":
            return []
        measure = replace(parent.measure, font=style.font) if style.font != parent.measure.font else parent.measure
        label = title(element) or parent.label
        context = Context(parent.matrix, measure, style, name, label, parent.chain, parent.copied, parent.outer)
        if "transform" in style.own or "transform" in element.attrib:
            context = replace(context, matrix=times(parent.matrix, transform_of(element, context, job)))
            if not finite(context.matrix):
                self.job.broken(context, "its transform is out of range")
                return []
        if tag == "text":
            self._text(element, context, visit.out)
            return []
        if tag in shapes.SHAPES:
            self._finish(self._painter.shape(element, context), context, visit.out)
            return []
        return self._group(tag, element, context, visit.out)

    def _text(self, element: etree._Element, context: Context, out: list[Item]) -> None:
        items: list[Item] = []
        for run in text.runs(element, context, self.job):
            self._finish(self._painter.outline(run.outline, run.context, run.element), run.context, items)
        self._finish(items, context, out)

    def _group(self, tag: str, element: etree._Element, context: Context, out: list[Item]) -> Tasks:
        """The tasks for an element with content: its children, then what is done to all of them together."""
        plain = _plain(context)
        inner: list[Item] = out if plain else []
        tasks: Tasks
        if tag in ("g", "a"):
            tasks = self._children(element, context, inner)
        elif tag == "switch":
            tasks = self._switch(element, context, inner)
        elif tag == "svg":
            tasks = self._viewport(element, context, inner, element.get("width"), element.get("height"), True)
        elif tag == "use":
            tasks = self._use(element, context, inner)
        else:
            refused.tell(tag, element, context, self.job)
            return []
        return tasks if plain else [*tasks, lambda: self._finish(inner, context, out)]

    def _finish(self, items: list[Item], context: Context, out: list[Item]) -> None:
        """What an element does to all that it painted; left out with a finding where that cannot be worked out."""
        try:
            out.extend(items if _plain(context) or not items else self._affected(items, context))
        except OverlayError as error:
            self.job.broken(context, f"its clip, mask or opacity cannot be worked out ({error})")

    def _affected(self, items: list[Item], context: Context) -> list[Item]:
        """``items`` after the filter, clip, mask and opacity of their element (in CSS's order)."""
        style, job = context.style, self.job
        refused.effects(context, job)
        box: Box | None = None
        if style.get("clip-path") != "none" or style.get("mask") != "none":
            fills = [item.area for item in items if not item.outlining] or [item.area for item in items]
            box = box_of(shapely.get_coordinates(fills), context.matrix)
        if style.get("clip-path") != "none":
            region = clip_region(style.get("clip-path"), context, job, box)
            if region is not None:
                shapely.prepare(region)
                items = [part for item in items if (part := clipped(item, region))]
        if style.get("mask") != "none":
            items = masked(items, style.get("mask"), context, job, box, self.content)
        opacity = self._painter.paints.opacity("opacity", context)
        if opacity < 1:
            items = flattened(items) if len(items) > 1 else items
            items = [replace(item, alpha=item.alpha * opacity) for item in items]
        return [item for item in items if item.alpha > INVISIBLE]

    def _switch(self, element: etree._Element, context: Context, out: list[Item]) -> Tasks:
        """The first child whose conditions hold."""
        speech = self.job.settings.language.lower()
        for task in self._children(element, context, out):
            child = task.element
            wanted = child.get("systemLanguage")
            known = wanted is None or speech in (part.strip().lower().split("-")[0] for part in wanted.split(","))
            drawn = namespace(child) in (SVG, "") and local(child) not in SILENT | {"foreignObject"}
            if known and drawn and child.get("requiredExtensions") is None:
                return [task]
        return []

    def _use(self, element: etree._Element, context: Context, out: list[Item]) -> Tasks:
        job, target = self.job, href(element)
        if not target.startswith("#"):
            reason = "refers to another file" if target else "refers to nothing"
            fault = f"it {reason}, which is never fetched, so it is left out; draw the copy itself."
            job.tell("reference-missing", "warning", context, fault)
            return []
        found = job.find(target[1:], context, "use")
        if found is None:
            return []
        above = tuple(element.iterancestors())
        if not job.enters(found, replace(context, chain=above if found in above else context.chain), "use"):
            return []
        try:
            x, y = context.measure.pair(element.get("x") or "0", element.get("y") or "0")
        except ValueError as error:
            job.broken(context, error)
            return []
        moved = times(context.matrix, (1, 0, 0, 1, x, y))
        inside = replace(context, matrix=moved, chain=(*context.chain, found), copied=True)
        kind = local(found)
        if kind not in ("symbol", "svg"):
            return [_Visit(found, inside, f"{context.name}/{kind}[1]", out)]
        width = element.get("width") or found.get("width")
        height = element.get("height") or found.get("height")
        style = job.cascade.style(found, context.style, context.name, context.measure)
        inside = replace(inside, style=style, label=title(found) or context.label)
        inside = replace(inside, matrix=times(inside.matrix, transform_of(found, inside, job)))
        return self._viewport(found, inside, out, width, height, kind == "svg")

    def _viewport(
        self,
        element: etree._Element,
        context: Context,
        out: list[Item],
        width: str | None,
        height: str | None,
        placed: bool,
    ) -> Tasks:
        """The children of a nested svg or a symbol, fitted into their viewport and clipped to it."""
        measure = context.measure
        try:
            x, y = measure.pair(element.get("x") or "0", element.get("y") or "0") if placed else (0.0, 0.0)
            w, h = measure.pair(*("100%" if side in (None, "auto") else side for side in (width, height)))
        except ValueError as error:
            self.job.broken(context, error)
            return []
        if w <= 0 or h <= 0:
            return []
        box = view_box(element.get("viewBox"))
        onto = times(context.matrix, (1, 0, 0, 1, x, y))
        fit, _ = fitted(box, w, h, element.get("preserveAspectRatio") or "")
        size = (box[2], box[3]) if box else (w, h)
        measure = replace(measure, width=size[0], height=size[1])
        inside = replace(context, matrix=times(onto, fit), measure=measure)
        if not finite(inside.matrix):
            self.job.broken(context, "its viewBox is out of range")
            return []
        if context.style.get("overflow") in ("visible", "auto"):
            return self._children(element, inside, out)
        inner: list[Item] = []
        window = frame(onto, (0.0, 0.0, w, h))

        def clip() -> None:
            try:
                out.extend([part for item in inner if (part := clipped(item, window))])
            except OverlayError as error:
                self.job.broken(context, f"it cannot be cut to its viewport ({error})")

        return [*self._children(element, inside, inner), clip]


def _plain(context: Context) -> bool:
    """Whether an element does nothing to what it contains."""
    own = context.style.own
    return not (own.keys() & _EFFECTS) or all(own.get(name, "none") in ("none", "1", "normal") for name in _EFFECTS)


_EFFECTS = frozenset({"opacity", "clip-path", "mask", "filter", "mix-blend-mode"})
