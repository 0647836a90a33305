"""Every promise of a handover is checked: whichever a room breaks, the flow tells and sews on without its cause."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from shapely.affinity import translate
from shapely.geometry import MultiPolygon, box

from pipeline import flow
from pipeline.errors import BrokenPromiseError
from pipeline.geometry.polygon import NOTHING
from pipeline.model import Drawing, Finding, Line, Region, Shape, Stroke, points
from pipeline.regions.settings import RegionSettings
from pipeline.regions.stack import stack
from pipeline.settings import Settings

Broken = Callable[[Any], Any]


def layers() -> tuple[Region, ...]:
    """A fill, a bar of satin on it, and a run beside them."""
    line = Line(points([(0, 50), (40, 50)]))
    shapes = (
        Shape("hull", None, "#204060", MultiPolygon([box(0, 0, 40, 40)])),
        Shape("mast", None, "#d0a040", MultiPolygon([box(10, 5, 13, 35)])),
        Shape("rope", None, "#a02020", MultiPolygon([box(0, 49.8, 40, 50.2)]), Stroke((line,), 0.4)),
    )
    return stack(Drawing("made", "0" * 64, 60.0, 60.0, shapes), RegionSettings(), lambda finding: None)


def of(element: str, change: Broken) -> Broken:
    """``change`` applied to what of a handover belongs to one region."""
    own = {region.element: region.id for region in layers()}[element]

    def changed(given: tuple[Any, ...]) -> tuple[Any, ...]:
        return tuple(change(one) if _region(one) == own else one for one in given)

    return changed


def _region(one: Any) -> str:
    for step in ("step", "part", "region"):
        one = getattr(one, step, one)
    return one if isinstance(one, str) else str(one.id)


def strands(change: Broken) -> Broken:
    return lambda block: replace(block, strands=tuple(replace(s, points=change(s.points)) for s in block.strands))


LOCAL: dict[str, tuple[str, str, Broken, str]] = {
    "height": ("", "rope", lambda r: replace(r, z=7), "not at its height"),
    "no outline": ("", "mast", lambda r: replace(r, outline=NOTHING), "no valid outline"),
    "hidden": ("", "mast", lambda r: replace(r, visible=NOTHING), "hidden but kept"),
    "bare outside": ("assign", "mast", lambda s: replace(s, bare=translate(s.region.outline, 1.0)), "its bare"),
    "foundation outside": (
        "assign", "hull", lambda s: replace(s, foundation=translate(s.region.outline, 1.0)), "its foundation"
    ),
    "no area": ("split", "mast", lambda p: replace(p, area=box(0, 0, 0, 0)), "no valid area"),
    "no column": ("split", "mast", lambda p: replace(p, column=None), "no column"),
    "no line": ("split", "rope", lambda p: replace(p, lines=()), "no line"),
    "no angle": ("split", "hull", lambda p: replace(p, angle_deg=None), "no angle"),
    "no cover": ("stitch", "mast", strands(lambda dots: dots[:0]), "no cover"),
    "at no place": ("stitch", "mast", strands(lambda dots: dots * np.nan), "at no place"),
}  # fmt: skip
"""The room's name in ``flow``, the region at fault, what breaks, and a word of what is told."""


@pytest.mark.parametrize(("room", "element", "change", "word"), LOCAL.values(), ids=LOCAL)
def test_a_promise_broken_for_one_region_costs_that_region(
    room: str, element: str, change: Broken, word: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    given, broken = layers(), of(element, change)
    if room:
        plain = getattr(flow, room)
        monkeypatch.setattr(flow, room, lambda *args: broken(plain(*args)))
    else:
        given = broken(given)
    findings: list[Finding] = []
    surfaces, parts, sewing = flow.sew(given, Settings(), findings.append)
    (lost,) = [finding for finding in findings if finding.code == "region-left-out"]
    assert word in lost.message
    assert {surface.region.element for surface in surfaces} == {"hull", "mast", "rope"} - {element}
    assert parts
    assert sewing.passes


def shifted(sewing: Any, by: tuple[float, float], one: bool = False) -> Any:
    """All needle points of the second pass moved, or only one amid it."""
    item = sewing.passes[1]
    dots = item.points.copy()
    dots[len(dots) // 2 if one else slice(None)] += by
    return replace(sewing, passes=(sewing.passes[0], replace(item, points=points(dots)), *sewing.passes[2:]))


WHOLE: dict[str, tuple[str, Broken, str]] = {
    "one id": ("split", lambda parts: tuple(replace(p, id="p1") for p in parts), "share an id"),
    "no region": ("split", lambda parts: (replace(parts[0], region="r99"), *parts[1:]), "no region"),
    "sewn twice": ("arrange", lambda steps: (*steps, steps[0]), "exactly once"),
    "not sewn": ("arrange", lambda steps: steps[1:], "exactly once"),
    "nothing": ("join", lambda sewing: replace(sewing, passes=()), "nothing is sewn"),
    "off the grid": ("join", lambda sewing: shifted(sewing, (0.04, 0.0)), "grid"),
    "too long": ("join", lambda sewing: shifted(sewing, (20.0, 0.0), one=True), "longer than a record"),
}


@pytest.mark.parametrize(("room", "change", "word"), WHOLE.values(), ids=WHOLE)
def test_a_promise_broken_for_all_is_our_fault(
    room: str, change: Broken, word: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = getattr(flow, room)
    monkeypatch.setattr(flow, room, lambda *args: change(plain(*args)))
    with pytest.raises(BrokenPromiseError, match=word):
        flow.sew(layers(), Settings(), lambda finding: None)
