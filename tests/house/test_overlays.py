"""Only ``geometry/overlay.py`` calls the operations of GEOS that can fail; rooms go through it."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

HOUSE = Path(__file__).parents[2] / "pipeline"
DOOR = "geometry/overlay.py"
GUARDED = {
    "buffer",
    "coverage_union_all",
    "difference",
    "disjoint_subset_union",
    "disjoint_subset_union_all",
    "intersection",
    "intersection_all",
    "make_valid",
    "offset_curve",
    "set_precision",
    "symmetric_difference",
    "symmetric_difference_all",
    "unary_union",
    "union",
    "union_all",
}
DOORS = {"overlay", "colour"}
"""Modules of ours that have functions of these names."""


def raw_calls(source: str) -> list[str]:
    """Every use of a guarded operation in ``source`` that does not go through a module of ours."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Attribute) and node.attr in GUARDED:
            if not (isinstance(node.value, ast.Name) and node.value.id in DOORS):
                found.append(f"line {node.lineno}: {ast.unparse(node)}")
        elif isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "shapely":
            found += [
                f"line {node.lineno}: {alias.name}" for alias in node.names if alias.name in {*GUARDED, "ops"}
            ]
    return found


@pytest.mark.parametrize(
    "file",
    sorted(file for file in HOUSE.rglob("*.py") if file.relative_to(HOUSE).as_posix() != DOOR),
    ids=lambda f: str(f.relative_to(HOUSE)),
)
def test_overlays_go_through_one_door(file: Path) -> None:
    assert raw_calls(file.read_text()) == []


@pytest.mark.parametrize(
    "source",
    [
        "a.union(b)",
        "shapely.union_all(pieces)",
        "area = shape.outline.buffer(-0.1).area",
        "def f(a):\n    return shapely.make_valid(a)",
        "from shapely import union_all",
        "from shapely.ops import unary_union",
        "from shapely import ops",
        "run(shapely.difference, a, b)",
        "overlay.shapely.difference(a, b)",
        "overlay.union_all([a.buffer(1), b])",
    ],
)
def test_planted_violations_are_found(source: str) -> None:
    assert raw_calls(source)


@pytest.mark.parametrize("source", ["overlay.union(a, b)", "colour.difference(a, b)", "a.covers(b)"])
def test_what_is_allowed_is_not_found(source: str) -> None:
    assert not raw_calls(source)
