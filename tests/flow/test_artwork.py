"""Our own designs through the whole line: the regression library."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import shapely
from groundwork import foundation_on_cover
from jsonschema import Draft202012Validator
from judge import sewn_segments, short_stitches

from pipeline import flow
from pipeline.geometry.polygon import multipolygon
from pipeline.model import Plan
from pipeline.settings import Settings
from pipeline.write.machine import machine_bytes, read_machine_file
from pipeline.write.plan import plan_bytes, plan_document

ARTWORK = sorted((Path(__file__).parents[2] / "artwork").glob("*.svg"))
SCHEMA = json.loads((Path(flow.__file__).parent / "write" / "plan.schema.json").read_text())
SETTINGS = Settings()


@pytest.fixture(scope="module", params=ARTWORK, ids=lambda path: path.stem)
def made(request: pytest.FixtureRequest, demo: Callable[[str], Plan]) -> tuple[Path, Plan]:
    """A design and its plan."""
    return request.param, demo(request.param.stem)


def test_a_dozen_designs() -> None:
    assert len(ARTWORK) >= 12


def test_plan_validates(made: tuple[Path, Plan]) -> None:
    document = json.loads(json.dumps(plan_document(made[1])))
    assert [error.message for error in Draft202012Validator(SCHEMA).iter_errors(document)] == []


def test_every_region_and_part_says_why(made: tuple[Path, Plan]) -> None:
    """Roles and foundation as the sentences tell them are those that the needle points and areas show."""
    begins = {"base": "A base: ", "mixed": "Mixed: ", "overlay": "An overlay: "}
    document = plan_document(made[1])["regions"]
    assert sum(len(region["parts"]) for region in document) == len(made[1].parts) > 0
    for region in document:
        assert region["why"].startswith(begins[region["role"]])
        assert region["why"].endswith(".")
        assert region["left_out_mm2"] >= (0.05 if "left out" in region["why"] else 0.0)
        assert "left out" in region["why"] or region["left_out_mm2"] < 0.1
        for part in region["parts"]:
            assert part["kind"] in part["why"]
            assert ("; no foundation, " in part["why"]) == (part["foundation"] == [])
            assert part["why"].endswith(".")


def test_nothing_is_lost_to_a_fault_of_ours(made: tuple[Path, Plan]) -> None:
    assert [finding.message for finding in made[1].findings if finding.code == "region-left-out"] == []


def test_machine_file_reads_back_exactly(made: tuple[Path, Plan]) -> None:
    plan = made[1]
    read = read_machine_file(machine_bytes(plan))
    every = np.vstack([item.points for item in plan.sewing.passes])
    assert np.abs(read.points + plan.sewing.centre - every).max() < 1e-6
    assert read.count("colour") == plan.counts.colour_changes
    assert read.count("trim") == plan.counts.trims
    assert read.count("jump") == plan.counts.jumps
    assert len(read.points) == plan.counts.stitches


def test_stitches_can_be_sewn(made: tuple[Path, Plan]) -> None:
    short, longest = short_stitches(made[1])
    assert short == 0
    assert longest <= SETTINGS.lengths.longest_mm + 1e-9


def test_foundation_stays_off_sewn_cover(made: tuple[Path, Plan]) -> None:
    on, every = foundation_on_cover(made[1].sewing, SETTINGS.thread.laid_mm)
    assert on <= 0.02 * every


def test_what_lies_beneath_in_sight_is_sewn_before(made: tuple[Path, Plan]) -> None:
    """Checked from polygons and the finished sewing, not from the graph that ordered it."""
    plan = made[1]
    first: dict[str, int] = {}
    last: dict[str, int] = {}
    for index, item in enumerate(plan.sewing.passes):
        if item.layer == "cover":
            first.setdefault(item.part, index)
            last[item.part] = index
    height = {surface.region.id: surface.region.z for surface in plan.surfaces}
    visible = {surface.region.id: surface.region.visible for surface in plan.surfaces}
    sewn = [part for part in plan.parts if part.id in first]
    assert len(sewn) == len(plan.parts) > 0
    tree = shapely.STRtree([part.area for part in sewn])
    for upper in sewn:
        seen = upper.area.intersection(visible[upper.region])
        for index in tree.query(seen, predicate="intersects"):
            lower = sewn[index]
            if height[lower.region] < height[upper.region] and lower.area.intersection(seen).area > 0.05:
                assert last[lower.id] < first[upper.id]


def test_bare_is_what_no_carrying_region_beneath_covers(made: tuple[Path, Plan]) -> None:
    """All over nothing is bare, nothing over a region at least 1 mm wide is, and foundation lies on or by it."""
    plan, beneath, carrying = made[1], shapely.MultiPolygon(), shapely.MultiPolygon()
    assert plan.surfaces
    for surface in plan.surfaces:
        outline = surface.region.outline
        assert surface.bare.difference(outline).area < 1e-3
        assert outline.difference(beneath.buffer(0.01)).difference(surface.bare).area < 0.01
        assert surface.bare.intersection(carrying.buffer(-0.05)).area < 0.01
        assert surface.foundation.difference(surface.bare.buffer(0.81)).area < 0.01
        beneath = beneath.union(outline)
        core = outline.buffer(-0.5, quad_segs=16).buffer(0.49, quad_segs=16)
        carrying = carrying.union(core)


def test_thread_starts_and_ends_are_locked(made: tuple[Path, Plan]) -> None:
    passes = made[1].sewing.passes
    for index, item in enumerate(passes):
        if item.approach in ("trim", "colour"):
            assert item.layer == "lock"
            assert index == 0 or passes[index - 1].layer == "lock"
    assert passes[-1].layer == "lock"


def test_no_thread_hangs_in_the_window(demo: Callable[[str], Plan]) -> None:
    plan = demo("lifebuoy-ring")
    shown = multipolygon(shapely.union_all([surface.region.visible for surface in plan.surfaces]))
    middle = shapely.Point(plan.source.width_mm / 2, plan.source.height_mm / 2)
    holes = [shapely.Polygon(ring) for piece in shown.geoms for ring in piece.interiors]
    window = next(hole for hole in holes if hole.covers(middle))
    assert window.area > 300
    segments, _ = sewn_segments(plan)
    inside = shapely.intersects(shapely.linestrings(segments), window.buffer(-0.6))
    assert not inside.any()


def test_puzzle_delivery_gives_nearly_the_layered_plan(demo: Callable[[str], Plan]) -> None:
    whole, puzzle = demo("lighthouse-patch"), demo("lighthouse-puzzle")
    assert puzzle.counts.stitches == pytest.approx(whole.counts.stitches, rel=0.05)
    assert sum(surface.region.restored_mm2 for surface in puzzle.surfaces) > 500


def test_same_bytes_in_every_run(artwork: Path, demo: Callable[[str], Plan]) -> None:
    one, other = demo("five-deep"), flow.convert(artwork / "five-deep.svg", SETTINGS)
    assert plan_bytes(one) == plan_bytes(other)
    assert machine_bytes(one) == machine_bytes(other)
