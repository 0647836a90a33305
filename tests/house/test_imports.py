"""The house's import rule: cli → batch → flow → rooms → craft, model, geometry, errors; no room knows another."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

HOUSE = Path(__file__).parents[2] / "pipeline"
ROOMS = ("read", "regions", "roles", "split", "steps", "stitch", "tie", "write")
GROUND = {"ranges", "model", "errors", "losses", "geometry", "colour", "craft", "sequence"}
OWNERS = {
    "pyclipper": "geometry/offset.py",
    "svgelements": "read",
    "lxml": "read",
    "tinycss2": "read",
    "cssselect2": "read",
    "click": "cli.py",
}
"""Packages with one owner: the file or folder that alone may import them."""


def imported(source: str, module: str) -> set[str]:
    """Every absolute name that ``source`` imports anywhere, functions included; relative ones resolved."""
    names: set[str] = set()
    package = module.split(".")[:-1]
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(package[: len(package) + 1 - node.level]) if node.level else ""
            stem = ".".join(filter(None, [base, node.module or ""]))
            names |= {f"{stem}.{alias.name}" for alias in node.names}
    return names


def violations(source: str, place: str) -> list[str]:
    """What in ``source``, lying at ``place`` below pipeline/, breaks the rule."""
    module = "pipeline." + place.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
    module = module + ".__init__" if place.endswith("__init__.py") else module
    names = imported(source, module)
    room = place.split("/")[0].removesuffix(".py")
    broken = [
        f"{place} imports {name}, which only {owner} may"
        for name in sorted(names)
        for package, owner in OWNERS.items()
        if name.split(".")[0] == package and not place.startswith(owner)
    ]
    if room in (*ROOMS, "measure", "check", *GROUND):
        allowed = GROUND | {room} if room not in GROUND else {"model", "errors", "geometry", room}
        if room in ("model", "errors", "craft"):
            allowed = {"ranges", "model", "errors", room}
        broken += [
            f"{place} imports {name}, out of the flow's direction"
            for name in sorted(names)
            if name.split(".")[0] == "pipeline" and len(name.split(".")) > 1 and name.split(".")[1] not in allowed
        ]
    return broken


@pytest.mark.parametrize("file", sorted(HOUSE.rglob("*.py")), ids=lambda f: str(f.relative_to(HOUSE)))
def test_file_keeps_the_import_rule(file: Path) -> None:
    assert violations(file.read_text(), file.relative_to(HOUSE).as_posix()) == []


@pytest.mark.parametrize(
    ("source", "place"),
    [
        ("from pipeline.stitch import sew", "roles/assign.py"),
        ("import pipeline.tie.join", "split/column.py"),
        ("def f():\n    from pipeline.write.plan import x", "read/elements.py"),
        ("from ..tie import join", "steps/arrange.py"),
        ("from pipeline import flow", "measure/gap.py"),
        ("import pyclipper", "geometry/polygon.py"),
        ("from click import echo", "batch.py"),
        ("from pipeline.read import read_drawing", "geometry/path.py"),
        ("from pipeline.settings import Settings", "model.py"),
    ],
)
def test_planted_violations_are_found(source: str, place: str) -> None:
    assert violations(source, place)


@pytest.mark.parametrize("room", [*ROOMS, "measure", "batch", "geometry"])
def test_a_package_loads_nothing(room: str) -> None:
    """Who wants one module of a room (its settings, say) gets that alone."""
    (docstring,) = ast.parse((HOUSE / room / "__init__.py").read_text()).body
    assert isinstance(docstring, ast.Expr)


def test_rooms_lie_in_running_order() -> None:
    folders = sorted(p.name for p in HOUSE.iterdir() if (p / "__init__.py").exists())
    assert [name for name in folders if name in ROOMS] == list(ROOMS)


def test_files_can_be_read_in_one_sitting() -> None:
    assert {f.name: n for f in HOUSE.rglob("*.py") if (n := len(f.read_text().splitlines())) > 400} == {}


def _long_bodies(source: str) -> dict[str, int]:
    """The functions of a module whose bodies, docstring apart, have more than 40 lines."""
    found = {}
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef):
            body = node.body[1:] if ast.get_docstring(node) is not None else node.body
            lines = (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0
            if lines > 40:
                found[node.name] = lines
    return found


def test_functions_can_be_seen_at_once() -> None:
    assert _long_bodies("def long():\n" + "    x = 1\n" * 41) == {"long": 41}
    assert {f.name: long for f in HOUSE.rglob("*.py") if (long := _long_bodies(f.read_text()))} == {}


def test_only_the_command_prints() -> None:
    found = [
        file.name
        for file in HOUSE.rglob("*.py")
        if file.name != "cli.py"
        for node in ast.walk(ast.parse(file.read_text()))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print"
    ]
    assert found == []
