"""The outline of a shape element, from its attributes (or the CSS properties of the same name)."""

from __future__ import annotations

from lxml import etree

from pipeline.read import outline, pathdata
from pipeline.read.document import local
from pipeline.read.outline import Curves
from pipeline.read.sizes import Axis, Measure, numbers
from pipeline.read.style import Style

SHAPES = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})


def drawn(element: etree._Element, style: Style, measure: Measure, most: int) -> tuple[Curves | None, str | None]:
    """The outline in user units (None: nothing to draw), and what was wrong with path data.

    ``ValueError`` where the element cannot be drawn at all; its words complete “… cannot be drawn: …”.
    """
    kind = local(element)
    if kind == "path":
        return pathdata.path(element.get("d") or "", most)
    if kind in ("polyline", "polygon"):
        return _points(element.get("points") or "", kind == "polygon", most)
    box = _Sizes(element, style, measure)
    if kind == "rect":
        return _rect(box), None
    if kind == "circle":
        r = box.positive("r", "size")
        return outline.ellipse(box.length("cx", "x"), box.length("cy", "y"), r, r), None
    if kind == "ellipse":
        rx, ry = _radii(box)
        return outline.ellipse(box.length("cx", "x"), box.length("cy", "y"), rx, ry), None
    ends = [box.length(name, axis) for name, axis in (("x1", "x"), ("y1", "y"), ("x2", "x"), ("y2", "y"))]  # type: ignore[arg-type]
    return outline.polygon(ends, closed=False), None


class _Sizes:
    """The lengths of one element."""

    def __init__(self, element: etree._Element, style: Style, measure: Measure) -> None:
        self._element, self._style, self._measure = element, style, measure

    def text(self, name: str) -> str | None:
        value = self._style.own.get(name) or self._element.get(name)
        return None if value is None or value.strip() in ("", "auto") else value

    def length(self, name: str, axis: Axis) -> float:
        value = self.text(name)
        if value is None:
            return 0.0
        try:
            return self._measure.length(value, axis)
        except ValueError as error:
            raise ValueError(f"{name}: {error}") from error

    def positive(self, name: str, axis: Axis) -> float:
        value = self.length(name, axis)
        if value < 0:
            raise ValueError(f"{name} is negative")
        return value


def _rect(box: _Sizes) -> Curves | None:
    rx, ry = _radii(box)
    return outline.rectangle(
        box.length("x", "x"), box.length("y", "y"), box.positive("width", "x"), box.positive("height", "y"), rx, ry
    )


def _radii(box: _Sizes) -> tuple[float, float]:
    """rx and ry, one standing for the other where it is missing or negative."""
    rx = box.length("rx", "x") if box.text("rx") else -1.0
    ry = box.length("ry", "y") if box.text("ry") else -1.0
    if rx < 0 and ry < 0:
        return 0.0, 0.0
    return (ry if rx < 0 else rx), (rx if ry < 0 else ry)


def _points(text: str, closed: bool, most: int) -> tuple[Curves | None, str | None]:
    """Points up to the first fault, as SVG asks."""
    fault = None
    try:
        values = numbers(text)
    except ValueError:
        values, fault = _good_numbers(text)
    if len(values) % 2 and fault is None:
        fault = "a last number without its fellow"
    if len(values) > 2 * most:
        raise ValueError("it has too many points")
    return outline.polygon(values, closed), fault


def _good_numbers(text: str) -> tuple[list[float], str]:
    values: list[float] = []
    for word in text.replace(",", " ").split():
        try:
            values += numbers(word)
        except ValueError:
            return values, word[:24]
    raise ValueError("a coordinate is out of range")
