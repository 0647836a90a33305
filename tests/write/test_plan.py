"""The plan as JSON: the contract's table, its schema, and agreement with the machine file."""

from __future__ import annotations

import copy
import dataclasses
import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import hand_plans
import jsonschema
import numpy as np
import pytest
import shapely
from shapely.geometry import MultiPolygon, Polygon

import pipeline.write
from pipeline.errors import BrokenPromiseError
from pipeline.model import Column, Finding, Pass, points
from pipeline.write.machine import machine_bytes, read_machine_file
from pipeline.write.plan import plan_bytes, plan_document

SCHEMA = json.loads((Path(pipeline.write.__file__).parent / "plan.schema.json").read_text(encoding="utf-8"))
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)
PLAN = hand_plans.plan(
    findings=(Finding("narrow-line", "note", "Zu dünn: als Linie genäht.", "r3", (1.23456, 2.0)),)
)

TABLE = [
    "format",
    "version",
    "made_by",
    "source",
    "settings",
    "centre",
    "regions",
    "threads",
    "passes",
    "counts",
    "findings",
]
TABLE += ["checks"]
REGION = ["id", "element", "z", "colour", "role", "rests_on", "outline", "bare", "restored_mm2"]
REGION += ["left_out_mm2", "why", "parts"]
PART = ["id", "kind", "area_mm2", "width_mm", "angle_deg", "foundation", "why"]
PASS = ["thread", "region", "part", "layer", "approach", "points"]
COUNTS = ["stitches", "foundation", "cover", "travel", "lock", "jumps", "trims", "colour_changes"]
COUNTS += ["thread_m", "bobbin_m", "minutes", "width_mm", "height_mm"]
CHECKS = ["picture_agreement", "covered", "outside", "gap_mm2", "peak_layers", "peak_penetrations_per_mm2"]


ADDED = ["longest_gap_mm", "thick_mm2", "pierced_mm2"]
"""More figures than the contract asks for, behind those that it does."""


def document() -> dict[str, Any]:
    return json.loads(plan_bytes(PLAN))


def test_the_schema_is_one() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_the_plan_satisfies_its_schema() -> None:
    VALIDATOR.validate(document())


def test_keys_are_those_of_the_contract_in_its_order() -> None:
    found = document()
    assert list(found) == TABLE
    assert list(found["source"]) == ["name", "sha256", "directions", "width_mm", "height_mm"]
    assert list(found["regions"][0]) == REGION
    assert list(found["regions"][0]["parts"][0]) == PART
    assert list(found["threads"][0]) == ["colour", "name", "metres"]
    assert list(found["passes"][0]) == PASS
    assert list(found["counts"]) == COUNTS
    assert list(found["findings"][0]) == ["code", "severity", "message", "region", "at"]
    assert list(found["checks"]) == [*CHECKS, "stitches", *ADDED, "cut_out"]
    assert list(found["checks"]["cut_out"]) == [*CHECKS, "stitches", *ADDED]


def test_without_a_twin_the_figures_of_the_cut_out_design_are_null() -> None:
    found = json.loads(plan_bytes(dataclasses.replace(PLAN, cut_out=None)))
    assert found["checks"]["cut_out"] is None
    VALIDATOR.validate(found)


def test_it_says_who_made_it_and_why_regions_are_as_they_are() -> None:
    left_out = dataclasses.replace(PLAN.surfaces[0], left_out_mm2=12.3456, why="An overlay.")
    found = json.loads(plan_bytes(dataclasses.replace(PLAN, surfaces=(left_out, *PLAN.surfaces[1:]))))
    assert (found["version"], found["made_by"], found["source"]["directions"]) == (2, "0.0.1", None)
    assert (found["regions"][0]["left_out_mm2"], found["regions"][0]["why"]) == (12.346, "An overlay.")


def objects(schema: Any) -> list[dict[str, Any]]:
    inner = schema.values() if isinstance(schema, dict) else schema if isinstance(schema, list) else []
    own = [schema] if isinstance(schema, dict) and "properties" in schema and "type" in schema else []
    return own + [found for item in inner for found in objects(item)]


def test_the_schema_knows_every_key_and_no_other() -> None:
    found = objects(SCHEMA)
    assert len(found) >= 10
    for item in found:
        assert item["additionalProperties"] is False
        assert item["required"] == list(item["properties"])


@pytest.mark.parametrize(
    "spoil",
    [
        lambda d: d.update(extra=1),
        lambda d: d.pop("centre"),
        lambda d: d.update(version=1),
        lambda d: d["source"].update(directions="none"),
        lambda d: d["regions"][0].update(why=""),
        lambda d: d["source"].update(sha256="x"),
        lambda d: d["regions"][0].update(role="upper"),
        lambda d: d["regions"][0].update(colour="#FFF"),
        lambda d: d["regions"][0]["parts"][0].update(kind="spiral"),
        lambda d: d["regions"][0]["parts"][0].update(foundation=["felt"]),
        lambda d: d["regions"][0]["parts"][0].update(angle_deg=180.0),
        lambda d: d["regions"][0]["outline"][0][0].__delitem__(slice(3, None)),
        lambda d: d["passes"][0].update(points=[]),
        lambda d: d["passes"][0]["points"][0].append(0.0),
        lambda d: d["passes"][0].update(approach="fly"),
        lambda d: d["counts"].update(stitches=1.5),
        lambda d: d["checks"].update(covered=1.01),
        lambda d: d["checks"].pop("cut_out"),
        lambda d: d["findings"][0].update(code="Not Kebab"),
        lambda d: d["findings"][0].update(at=[1.0]),
    ],
)
def test_the_schema_refuses_what_the_contract_excludes(spoil: Any) -> None:
    spoilt = copy.deepcopy(document())
    spoil(spoilt)
    assert not VALIDATOR.is_valid(spoilt)


def test_the_text_is_the_document_and_lists_one_item_a_line() -> None:
    text = plan_bytes(PLAN).decode()
    assert json.loads(text) == plan_document(PLAN)
    lines = text.splitlines()
    assert sum(line.startswith('  {"thread":') for line in lines) == len(PLAN.sewing.passes)
    assert sum(line.startswith('  {"id":') for line in lines) == len(PLAN.surfaces)
    assert "Zu dünn" in text
    assert text.endswith("}\n")


def test_an_empty_list_and_an_empty_plan_are_written_too() -> None:
    empty = dataclasses.replace(
        PLAN, sewing=dataclasses.replace(PLAN.sewing, passes=()), findings=(), parts=(), surfaces=()
    )
    found = json.loads(plan_bytes(empty))
    assert found["passes"] == found["regions"] == found["findings"] == []
    VALIDATOR.validate(found)


def test_the_same_plan_gives_the_same_bytes() -> None:
    assert plan_bytes(PLAN) == plan_bytes(hand_plans.plan(findings=PLAN.findings))


@pytest.mark.parametrize("centre", [(20.0, 15.0), (13.337, 7.05), (1 / 3, 200 / 7), (-4.00049, 1e-9)])
def test_needle_points_less_the_centre_are_the_machine_files_moves_exactly(centre: tuple[float, float]) -> None:
    """In decimal arithmetic, as written: no rounding is left between the two files."""
    shift = np.array(centre) - hand_plans.CENTRE
    moved = tuple(dataclasses.replace(p, points=points(p.points + shift)) for p in PLAN.sewing.passes)
    plan = dataclasses.replace(PLAN, sewing=dataclasses.replace(PLAN.sewing, centre=centre, passes=moved))
    found = json.loads(plan_bytes(plan), parse_float=Decimal)
    written = [
        [(x - found["centre"][0]) * 10, (y - found["centre"][1]) * 10]
        for p in found["passes"]
        for x, y in p["points"]
    ]
    sewn = np.rint(read_machine_file(machine_bytes(plan)).points * 10).astype(int).tolist()
    assert written == sewn
    assert all(abs(float(value) - wanted) <= 0.0005 for value, wanted in zip(found["centre"], centre, strict=True))


def test_a_point_off_the_grid_is_a_broken_promise() -> None:
    off = Pass(0, "r1", "r1.1", "cover", "colour", points([[20.02, 15.0]]))
    plan = dataclasses.replace(PLAN, sewing=dataclasses.replace(PLAN.sewing, passes=(off,)))
    with pytest.raises(BrokenPromiseError, match="grid"):
        plan_bytes(plan)


def test_outlines_are_geojson_with_their_holes() -> None:
    """RFC 7946, 3.1.6 and 3.1.7: closed rings of four positions or more, the first one outside."""
    for region, surface in zip(document()["regions"], PLAN.surfaces, strict=True):
        for key, area in (("outline", surface.region.outline), ("bare", surface.bare)):
            rings = [ring for polygon in region[key] for ring in polygon]
            assert all(ring[0] == ring[-1] and len(ring) >= 4 for ring in rings)
            shape = shapely.geometry.shape({"type": "MultiPolygon", "coordinates": region[key]})
            assert shape.symmetric_difference(area).area < 0.05
    assert len(document()["regions"][2]["outline"][0]) == 2  # the collar and its hole


def test_a_speck_that_rounding_closes_is_left_out_of_the_outline() -> None:
    speck = Polygon([(1, 1), (1.0001, 1), (1, 1.0001)])
    region = dataclasses.replace(
        PLAN.surfaces[0].region, outline=MultiPolygon([speck, Polygon([(0, 0), (3, 0), (0, 3)])])
    )
    plan = dataclasses.replace(PLAN, surfaces=(dataclasses.replace(PLAN.surfaces[0], region=region),))
    assert len(plan_document(plan)["regions"][0]["outline"]) == 1


def test_foundation_is_named_for_what_was_sewn() -> None:
    regions = {region["id"]: region["parts"][0]["foundation"] for region in document()["regions"]}
    assert regions == {"r1": ["edge run"], "r2": [], "r3": []}


STRIP = Polygon([(10, 10), (30, 10), (30, 14), (10, 14)])
EDGE = np.array(STRIP.buffer(-0.5, join_style="mitre").exterior.segmentize(2.0).coords)
MIDDLE = np.column_stack([np.arange(11, 29, 2.0), np.full(9, 12.0)])
ZIGZAG = np.column_stack([np.arange(11, 29, 1.0), np.where(np.arange(18) % 2, 10.5, 13.5)])
ROWS = np.vstack([[(x, 10.5), (x, 13.5)][:: 1 if k % 2 else -1] for k, x in enumerate(np.arange(11, 29, 2.5))])


@pytest.mark.parametrize(
    ("kind", "lines", "names"),
    [
        ("satin", [MIDDLE], ["centre run"]),
        ("satin", [EDGE], ["edge run"]),
        ("satin", [EDGE, ZIGZAG], ["edge run", "zig-zag"]),
        ("satin", [np.vstack([EDGE, ZIGZAG])], ["edge run", "zig-zag"]),
        ("satin", [MIDDLE[:1]], []),
        ("tatami", [EDGE], ["edge run"]),
        ("tatami", [ROWS], ["rows"]),
        ("tatami", [np.vstack([EDGE, ROWS])], ["edge run", "rows"]),
        ("tatami", [], []),
    ],
)
def test_foundation_of_every_kind_is_told_apart(kind: Any, lines: list[np.ndarray], names: list[str]) -> None:
    """A strip of 20 × 4 mm, with the foundations of the handbook of the trade (common practice)."""
    stations = np.arange(10, 31, 1.0)
    rails = [points(np.column_stack([stations, np.full(21, y)])) for y in (10.0, 14.0)]
    part = dataclasses.replace(
        PLAN.parts[2],
        kind=kind,
        area=STRIP,
        foundation=MultiPolygon([STRIP]),
        column=Column(*rails) if kind == "satin" else None,
    )
    steps = [hand_plans.sewn(0, line, "colour", "foundation", part.id) for line in lines]
    plan = dataclasses.replace(PLAN, parts=(part,), sewing=dataclasses.replace(PLAN.sewing, passes=tuple(steps)))
    assert plan_document(plan)["regions"][2]["parts"][0]["foundation"] == names


def test_a_figure_that_json_cannot_hold_is_refused() -> None:
    with pytest.raises(ValueError, match="JSON"):
        plan_bytes(dataclasses.replace(PLAN, counts=dataclasses.replace(PLAN.counts, minutes=float("inf"))))


def test_numbers_and_order_are_those_of_the_standard_library() -> None:
    lines = [line for line in plan_bytes(PLAN).decode().splitlines() if line.startswith("  ")]
    assert len(lines) > 10
    for line in lines:
        text = line.strip().rstrip(",")
        assert json.dumps(json.loads(text), ensure_ascii=False, separators=(",", ":")) == text


def test_a_setting_that_json_cannot_hold_is_refused() -> None:
    with pytest.raises(ValueError, match="JSON"):
        plan_bytes(dataclasses.replace(PLAN, settings={"width": float("nan")}))


def test_all_that_a_region_rests_on_is_told() -> None:
    assert [region["rests_on"] for region in document()["regions"]] == [[], ["r1"], ["r1", "r2"]]
