"""Every measure notices what it is there for: a plan is spoilt in one way, and the record refuses it."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from record import ALLOWED, Measures, measured, worse, written
from shapely.affinity import rotate

from pipeline import flow
from pipeline.write.plan import plan_document

Document = dict[str, Any]
QUAY = """<svg xmlns="http://www.w3.org/2000/svg" width="44mm" height="34mm" viewBox="0 0 44 34">
<rect x="3" y="3" width="30" height="22" fill="#1b4f72"/>
<rect x="33" y="3" width="2.4" height="20" fill="#7d8f4e"/>
<circle cx="11" cy="12" r="5" fill="#e8c37a"/>
<path d="M24 6L31 20L19 20Z" fill="#f4f1e8"/>
<path d="M6 22L40 30" stroke="#b03030" stroke-width="2.4" fill="none"/>
<path d="M36 5h6v2h-4v4h3v2h-3v4h4v2h-6z" fill="#b03030"/>
<path d="M4 30q5 3 10 0t10 0" stroke="#1b4f72" stroke-width="0.7" fill="none"/></svg>"""
"""A few shapes of every kind: fills that lie on each other, neighbours that abut, columns, a letter, a line."""


@pytest.fixture(scope="module")
def svg(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The drawing, in a folder of words so that its kinds are counted."""
    path = tmp_path_factory.mktemp("record") / "words" / "quay.svg"
    path.parent.mkdir()
    path.write_text(QUAY)
    return path


@pytest.fixture(scope="module")
def good(svg: Path) -> Document:
    """A plan as it should be."""
    made: Document = json.loads(json.dumps(plan_document(flow.convert(svg))))
    return made


@pytest.fixture(scope="module")
def before(good: Document, svg: Path) -> Measures:
    """Its measures."""
    return measured(good, svg)


def passes(plan: Document, layer: str) -> Iterator[dict[str, Any]]:
    return (item for item in plan["passes"] if item["layer"] == layer)


def longest(plan: Document, layer: str = "cover") -> dict[str, Any]:
    return max(passes(plan, layer), key=lambda item: len(item["points"]))


def again(layer: str, times: int = 2) -> Callable[[Document], None]:
    """Sew all of a layer more than once."""

    def spoil(plan: Document) -> None:
        for item in passes(plan, layer):
            item["points"] = item["points"] * times

    return spoil


def arriving(approach: str) -> Callable[[Document], None]:
    """Leave the thread or cut it where it ran on."""

    def spoil(plan: Document) -> None:
        for item in [item for item in plan["passes"] if item["approach"] == "sewn"][:6]:
            item["approach"] = approach

    return spoil


def back_and_forth(plan: Document) -> None:
    """Cut and begin far away, as a bad order would."""
    first, last = plan["passes"][1], plan["passes"][-1]
    plan["passes"] += [copy.deepcopy(item) | {"approach": "trim"} for item in (first, last) * 3]


def one_long(plan: Document) -> None:
    longest(plan)["points"][5][0] += 9.0


def crumbs(plan: Document) -> None:
    item = longest(plan)
    item["points"] = [[x + k / 10, y] for x, y in item["points"] for k in (0, 1)]


def other_colour(plan: Document) -> None:
    item = longest(plan)
    item["thread"] = (item["thread"] + 1) % len(plan["threads"])


def left_out(plan: Document) -> None:
    item = longest(plan)
    item["points"] = item["points"][: len(item["points"]) // 2]


def shifted(plan: Document) -> None:
    item = longest(plan)
    item["points"] = [[x - 12.0, y + 9.0] for x, y in item["points"]]


def drawn_in(plan: Document) -> None:
    """Sew every area narrower about its middle, as if nothing were given for pull."""
    for item in passes(plan, "cover"):
        middle = float(np.mean([x for x, _ in item["points"]]))
        item["points"] = [[middle + 0.93 * (x - middle), y] for x, y in item["points"]]


def piled(plan: Document) -> None:
    item = longest(plan)
    item["points"] = (item["points"] + item["points"][::-1]) * 3


def late_travel(on: str) -> Callable[[Document], None]:
    """Travel after all else: over finished cover of its own colour, of another, or over bare fabric."""

    def spoil(plan: Document) -> None:
        item = longest(plan)
        spots = np.array(item["points"])
        middle = spots.mean(axis=0)
        near = spots[np.argsort(np.hypot(*(spots - middle).T))[:60]].tolist()
        way = [[1.0 + 2.0 * k, 1.0] for k in range(20)] if on == "bare" else near
        thread = item["thread"] if on == "own" else (item["thread"] + 1) % len(plan["threads"])
        plan["passes"].append(item | {"layer": "travel", "approach": "trim", "thread": thread, "points": way})

    return spoil


def foundation_last(plan: Document) -> None:
    plan["passes"].sort(key=lambda item: item["layer"] == "foundation")


def turned_outlines(plan: Document) -> None:
    for region in plan["regions"]:
        shape = shapely.MultiPolygon([shapely.Polygon(rings[0], rings[1:]) for rings in region["outline"]])
        turned = rotate(shape, 10.0)
        region["outline"] = [
            [list(map(list, ring.coords)) for ring in (one.exterior, *one.interiors)] for one in turned.geoms
        ]


def relabelled(kind: str, factor: float) -> Callable[[Document], None]:
    """Other areas of one kind."""

    def spoil(plan: Document) -> None:
        for region in plan["regions"]:
            for part in region["parts"]:
                if part["kind"] == kind:
                    part["area_mm2"] = part["area_mm2"] * factor + 3.0

    return spoil


def another_region(plan: Document) -> None:
    plan["regions"].append(plan["regions"][0] | {"id": "r99", "parts": []})


def roles(role: str) -> Callable[[Document], None]:
    """All regions lie alike."""

    def spoil(plan: Document) -> None:
        for region in plan["regions"]:
            region["role"] = role

    return spoil


def several_kinds(plan: Document) -> None:
    for k, part in enumerate(part for region in plan["regions"] for part in region["parts"]):
        part["kind"] = ("tatami", "satin", "run", "triple run")[k % 4]


def warned(plan: Document) -> None:
    plan["findings"].append({"code": "fabric-shows", "severity": "warning"})


SPOILT: dict[str, Callable[[Document], None]] = {
    **{layer: again(layer) for layer in ("foundation", "cover", "travel", "lock")},
    "jumps": arriving("jump"),
    "trims": arriving("trim"),
    "changes": arriving("colour"),
    "needle_up_mm": back_and_forth,
    "seconds": arriving("trim"),
    "thread_mm": again("cover"),
    "longest_mm": one_long,
    "short": crumbs,
    "agreement": other_colour,
    "covered": left_out,
    "outside": shifted,
    "gap_mm2": drawn_in,
    **dict.fromkeys(("layers", "thick_mm2", "penetrations", "pierced_mm2"), piled),
    "travel_own_mm": late_travel("own"),
    "travel_other_mm": late_travel("other"),
    "travel_bare_mm": late_travel("bare"),
    "travel_longest_mm": late_travel("bare"),
    "foundation_on_cover_mm": foundation_last,
    "foundation_on_own_mm": foundation_last,
    "flat_edge_mm": turned_outlines,
    "tatami_mm2": relabelled("tatami", 1.05),
    "satin_mm2": relabelled("satin", 0.9),
    "run_mm2": relabelled("triple run", 0.5),
    "regions": another_region,
    "bases": roles("overlay"),
    "overlays": roles("base"),
    "kinds": several_kinds,
    "warnings": warned,
}


@pytest.mark.parametrize("measure", ALLOWED)
def test_a_spoilt_plan_is_refused(measure: str, good: Document, before: Measures, svg: Path) -> None:
    plan = copy.deepcopy(good)
    SPOILT[measure](plan)
    told = worse(before, measured(plan, svg))
    assert any(line.startswith(f"{measure}:") for line in told), told


def test_what_stays_within_its_allowance_or_gets_better_passes(before: Measures) -> None:
    assert worse(before, before) == []
    better = {
        name: value + 10.0 * ALLOWED[name].good if ALLOWED[name].good else value for name, value in before.items()
    }
    assert worse(before, better) == []
    assert len(worse(better, before)) >= 15


def test_what_is_not_measured_or_not_recorded_is_told(before: Measures) -> None:
    some = {name: value for name, value in before.items() if name != "trims"}
    assert worse(before, some) == ["trims: not measured any more"]
    assert worse(some, before) == ["trims: not in the record"]


def test_the_record_is_a_line_a_design() -> None:
    text = written({"b": {"trims": 2}, "a": {"trims": 1}})
    assert text.splitlines()[1:3] == ['"a": {"trims": 1},', '"b": {"trims": 2}']
    assert json.loads(text) == {"a": {"trims": 1}, "b": {"trims": 2}}
