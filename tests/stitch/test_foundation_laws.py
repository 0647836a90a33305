"""Foundation is what each fabric's recipe says, told from needle points alone.

Edge only, edge and rows, edge and light rows, edge and crossed rows (handbook of the trade, common practice): rows
lie at 90° to the cover, crossed ones at 45° and 135° to it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
import shapely
from crafts import CRAFT, craft
from shapely.affinity import rotate
from shapely.geometry import MultiPolygon, Polygon, box

from pipeline.craft import FoundationSettings
from pipeline.geometry.polygon import NOTHING
from pipeline.model import Column, Fabric, Part, Step, points
from pipeline.recipes import FABRICS
from pipeline.stitch.settings import StitchSettings
from pipeline.stitch.sew import sew

SETTINGS = FoundationSettings()
ROWS = {
    "edge": {},
    "edge and rows": {90: 2.5},
    "edge and light rows": {90: 3.5},
    "edge and crossed rows": {45: 3.5, 135: 3.5},
}
"""Angles to the cover, in degrees, and the rows' distance in mm."""


@dataclass(frozen=True)
class Seen:
    """Below: mm along the edge, the distance from it, and the rows' distance by their angle to the cover."""

    edge_mm: float
    inset_mm: float
    rows: dict[int, float]


def foundation(area: Polygon, fabric: Fabric, angle: float) -> np.ndarray:
    """Its stitches, ``(n, 2, 2)``."""
    whole = MultiPolygon([area])
    size = float(np.sqrt(area.area))
    part = Part(
        "p", "r1", "tatami", area, (size, size, size), whole, fabric.row_mm, "", bare=whole, angle_deg=angle
    )
    first, last = area.exterior.coords[0], area.exterior.coords[2]
    block = sew((Step(part, "#204060", first, last),), StitchSettings(), craft(fabric), lambda f: None)[0]
    found, here = [], None
    for strand in block.strands:
        line = strand.points if here is None else np.vstack([here, strand.points])
        if strand.layer == "foundation":
            found.append(np.stack([line[:-1], line[1:]], axis=1))
        here = strand.points[-1:]
    return np.concatenate(found)


def seen(area: Polygon, stitches: np.ndarray, angle: float) -> Seen:
    """Which stitches keep their distance from the edge, and how far apart the others lie."""
    ways = stitches[:, 1] - stitches[:, 0]
    lengths = np.hypot(*ways.T)
    depth = np.column_stack([shapely.distance(area.boundary, shapely.points(stitches[:, k])) for k in (0, 1)])
    along = (np.abs(depth[:, 0] - depth[:, 1]) < 0.06) & (depth.max(axis=1) < 0.8) & (lengths > 0.3)
    turn = (np.degrees(np.arctan2(-ways[:, 1], ways[:, 0])) - angle) % 180.0
    rows = {}
    for to in (0, 45, 90, 135):
        apart = np.abs((turn - to + 90.0) % 180.0 - 90.0)
        own = ~along & (apart < 3.0) & (lengths > 1.0)
        if lengths[own].sum() > 0.1 * lengths.sum():
            way = np.radians(to + angle)
            across = stitches[own].mean(axis=1) @ np.array([np.sin(way), np.cos(way)])
            places = np.sort(across)
            groups = np.split(places, np.flatnonzero(np.diff(places) > 0.5) + 1)
            rows[to] = float(np.median(np.diff([group.mean() for group in groups])))
    return Seen(float(lengths[along].sum()), float(np.median(depth[along])), rows)


@pytest.mark.parametrize("angle", [0.0, 45.0, 105.0])
@pytest.mark.parametrize("fabric", FABRICS, ids=lambda fabric: fabric.name)
def test_every_fabric_gets_the_foundation_of_its_recipe(fabric: Fabric, angle: float) -> None:
    area = rotate(box(0, 0, 32, 26), 15.0)
    found = seen(area, foundation(area, fabric, angle), angle)
    inner = area.buffer(-SETTINGS.edge_inset_mm, join_style="mitre").length
    times = {"edge": 1.05, "edge and crossed rows": 3.0}.get(fabric.foundation, 2.0)
    assert inner * 0.97 <= found.edge_mm <= inner * times
    assert found.inset_mm == pytest.approx(SETTINGS.edge_inset_mm, abs=0.03)
    wanted = ROWS[fabric.foundation]
    assert set(found.rows) == set(wanted)
    for to, distance in wanted.items():
        assert found.rows[to] == pytest.approx(distance, abs=0.2)


def test_the_table_of_recipes_is_the_handbooks() -> None:
    table = {fabric.name: (fabric.pull_mm, fabric.row_mm, fabric.pitch_mm, fabric.foundation) for fabric in FABRICS}
    assert table == {
        "firm woven": (0.15, 0.20, 0.40, "edge and rows"),
        "light woven": (0.15, 0.21, 0.42, "edge and light rows"),
        "knit": (0.30, 0.20, 0.40, "edge and crossed rows"),
        "pile": (0.40, 0.19, 0.38, "edge and crossed rows"),
        "felt": (0.10, 0.22, 0.44, "edge"),
        "cap front": (0.30, 0.20, 0.40, "edge and rows"),
    }
    assert [fabric.name for fabric in FABRICS if fabric.centre_out] == ["cap front"]


@pytest.mark.parametrize(("side", "layers"), [(2.3, 0), (4.5, 1), (7.0, 2)])
def test_small_areas_get_an_edge_run_only_and_smaller_ones_none(side: float, layers: int) -> None:
    """Under about 30 mm² edge run only, under about 6 mm² none (common practice, no source)."""
    area = box(0, 0, side, side)
    if not layers:
        with pytest.raises(ValueError, match="at least one array"):
            foundation(area, FABRICS[0], 0.0)
        return
    assert bool(seen(area, foundation(area, FABRICS[0], 0.0), 0.0).rows) == (layers == 2)


def test_of_two_bare_places_the_nearer_is_sewn_first() -> None:
    area = box(0, 0, 40, 12)
    bare = MultiPolygon([box(0, 0, 12, 12), box(28, 0, 40, 12)])
    part = Part("p", "r1", "tatami", area, (12, 12, 12), bare, 0.2, "", bare=bare, angle_deg=0.0)
    for start, first in (((0.5, 6.0), 0), ((39.5, 6.0), 1)):
        block = sew((Step(part, "#204060", start, (20.0, 6.0)),), StitchSettings(), CRAFT, lambda f: None)[0]
        lines = [strand.points for strand in block.strands if strand.layer == "foundation"]
        assert (lines[0][:, 0].mean() > 20) == bool(first)
        assert (lines[-1][:, 0].mean() > 20) != bool(first)
        for line in lines:
            away = np.minimum(np.abs(line[:, 0] - 12), np.abs(line[:, 0] - 28))
            assert away.min() >= SETTINGS.clear_mm - 0.01


def beneath_satin(bare: Polygon | MultiPolygon, needed: MultiPolygon) -> np.ndarray:
    """Needle points of the foundation beneath a column of 30 × 3 mm."""
    area = box(0, 0, 30, 3)
    column = Column(points([(0, 0), (30, 0)]), points([(0, 3), (30, 3)]))
    on = MultiPolygon([bare]) if isinstance(bare, Polygon) else bare
    part = Part("p", "r1", "satin", area, (3, 3, 3), needed, 0.2, "", bare=on, column=column)
    block = sew((Step(part, "#204060", (0.0, 1.5), (30.0, 1.5)),), StitchSettings(), CRAFT, lambda f: None)[0]
    lines = [strand.points for strand in block.strands if strand.layer == "foundation"]
    return np.vstack([np.zeros((0, 2)), *lines])


def test_satin_that_is_to_have_no_foundation_gets_none_however_bare_it_lies() -> None:
    """``roles`` leaves out the foundation of what hangs out too little."""
    whole = MultiPolygon([box(0, 0, 30, 3)])
    assert len(beneath_satin(whole, whole)) > 20
    assert len(beneath_satin(whole, NOTHING)) == 0


def test_foundation_beneath_satin_keeps_clear_of_the_cover_beside_it() -> None:
    """It ends before the cover that the column runs onto; where that reaches nearly to its middle there is none."""
    half = box(0, 0, 15, 3)
    sewn = beneath_satin(half, MultiPolygon([half]))
    assert 13.0 <= sewn[:, 0].max() <= 15.0 - SETTINGS.clear_mm + 0.25, "found to a quarter of a millimetre"
    for reach, some in ((1.5 + SETTINGS.clear_mm - 0.15, False), (1.5 + SETTINGS.clear_mm + 0.15, True)):
        strip = box(0, 0, 30, reach)
        assert bool(len(beneath_satin(strip, MultiPolygon([strip])))) == some
