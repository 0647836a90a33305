"""One design however it is drawn: turned, mirrored, moved, recoloured, or with its elements regrouped."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sewn import LAYERS, sewn

from pipeline import flow
from pipeline.write.plan import plan_document

COLOURS = {"sea": "#1b4f72", "sand": "#e8c37a", "sail": "#f4f1e8", "flag": "#b03030"}
BODY = (
    '<rect id="ground" x="4" y="6" width="40" height="26" rx="3" fill="{sea}"/>',
    '<circle id="moon" cx="16" cy="16" r="6" fill="{sand}"/>',
    '<path id="sail" d="M26 10 L40 26 L26 26 Z" fill="{sail}"/>',
    '<path id="oar" d="M8 28 L34 36" stroke="{flag}" stroke-width="2.4" fill="none"/>',
    '<path id="rope" d="M30 29 q4 3 9 0" stroke="{sail}" stroke-width="0.7" fill="none"/>',
)
Document = dict[str, Any]


def made(tmp_path: Path, shapes: str, colours: dict[str, str] = COLOURS, box: str = "0 0 50 50") -> Document:
    """The plan of shapes on a page of 50 mm."""
    path = tmp_path / "drawn.svg"
    text = f'<svg xmlns="http://www.w3.org/2000/svg" width="50mm" height="50mm" viewBox="{box}">{shapes}</svg>'
    path.write_text(text.format(**colours))
    document: Document = json.loads(json.dumps(plan_document(flow.convert(path))))
    return document


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Document:
    """The design as drawn."""
    return made(tmp_path_factory.mktemp("plain"), "".join(BODY))


def decided(plan: Document) -> list[tuple[str, str, tuple[str, ...], dict[str, int]]]:
    """Roles, what rests on what, and kinds, by element."""
    name = {region["id"]: region["element"] for region in plan["regions"]}
    return [
        (r["element"], r["role"], tuple(name[k] for k in r["rests_on"]), Counter(p["kind"] for p in r["parts"]))
        for r in plan["regions"]
    ]


MAY_DIFFER = {"foundation": (12, 0.25), "cover": (12, 0.02), "travel": (20, 0.0), "lock": (6, 0.0)}
"""Recorded allowances, stitches and share: walks begin at other corners and the grid rounds otherwise."""


def alike(one: Document, other: Document) -> None:
    """The same decisions, and counts that differ by no more than is allowed."""
    assert decided(one) == decided(other)
    a, b = sewn(one), sewn(other)
    for k, layer in enumerate(LAYERS):
        count, (least, share) = int((a.layer == k).sum()), MAY_DIFFER[layer]
        assert abs(int((b.layer == k).sum()) - count) <= max(least, share * count), layer
    changes = [[c["colour"] for c in plan["threads"]] for plan in (one, other)]
    assert changes[0] == changes[1]
    assert abs(one["counts"]["trims"] - other["counts"]["trims"]) <= 1
    assert one["counts"]["colour_changes"] == other["counts"]["colour_changes"]
    for key in ("tatami", "satin", "run", "triple run"):
        areas = [
            sum(p["area_mm2"] for r in plan["regions"] for p in r["parts"] if p["kind"] == key)
            for plan in (one, other)
        ]
        assert areas[0] == pytest.approx(areas[1], rel=0.01, abs=0.3)
    for key in ("picture_agreement", "covered"):
        assert one["checks"][key] == pytest.approx(other["checks"][key], abs=0.004)


@pytest.mark.parametrize(
    "transform",
    ["rotate(90 25 25)", "translate(50 0) scale(-1 1)", "translate(3.7 9.1)"],
    ids=["turned", "mirrored", "moved"],
)
def test_turned_mirrored_or_moved_it_is_sewn_alike(transform: str, plain: Document, tmp_path: Path) -> None:
    alike(plain, made(tmp_path, f'<g transform="{transform}">{"".join(BODY)}</g>'))


def test_recoloured_it_has_the_very_same_needle_points(plain: Document, tmp_path: Path) -> None:
    other = {"sea": "#402060", "sand": "#20b080", "sail": "#e0e060", "flag": "#101010"}
    plan = made(tmp_path, "".join(BODY), other)
    assert [item["points"] for item in plan["passes"]] == [item["points"] for item in plain["passes"]]
    assert [c["colour"] for c in plan["threads"]] == [
        {COLOURS[key]: other[key] for key in COLOURS}[c["colour"]] for c in plain["threads"]
    ]


def test_regrouped_it_has_the_very_same_needle_points(plain: Document, tmp_path: Path) -> None:
    ground, moon, sail, oar, rope = BODY
    plan = made(tmp_path, f"<g>{ground}<g>{moon}</g></g><g><g>{sail}{oar}</g>{rope}</g>")
    assert [item["points"] for item in plan["passes"]] == [item["points"] for item in plain["passes"]]
    assert decided(plan) == decided(plain)


def test_drawn_in_other_units_it_has_the_very_same_needle_points(plain: Document, tmp_path: Path) -> None:
    plan = made(tmp_path, f'<g transform="scale(4)">{"".join(BODY)}</g>', box="0 0 200 200")
    assert [item["points"] for item in plan["passes"]] == [item["points"] for item in plain["passes"]]


def test_the_decisions_are_those_that_a_digitizer_would_take(plain: Document) -> None:
    said = {element: (role, on) for element, role, on, _ in decided(plain)}
    assert said["ground"] == ("base", ())
    assert said["moon"] == ("overlay", ("ground",))
    assert said["sail"] == ("overlay", ("ground",))
    assert said["oar"] == ("mixed", ("ground",))
    kinds = {element: set(kinds) for element, _, _, kinds in decided(plain)}
    assert kinds["ground"] == {"tatami"}
    assert kinds["oar"] == {"satin"}
    assert kinds["rope"] == {"triple run"}
    moved = sewn(plain)
    assert np.hypot(*(moved.points.max(axis=0) - moved.points.min(axis=0))) == pytest.approx(
        np.hypot(plain["counts"]["width_mm"], plain["counts"]["height_mm"]), abs=0.02
    )
