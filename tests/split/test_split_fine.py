"""Fine lines: corners kept, slivers followed, blobs sewn as parts of their own, joints where they belong."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from crafts import CRAFT
from shapely.geometry import LineString, Point, Polygon, box

from pipeline.geometry.medial import medial_axis
from pipeline.model import Part, Region, Surface
from pipeline.split.lines import smooth
from pipeline.split.parts import split
from pipeline.split.settings import SplitSettings


def parted(area: Polygon, settings: SplitSettings | None = None) -> tuple[Part, ...]:
    outline = shapely.MultiPolygon([area])
    region = Region("r1", "test", None, 0, "#204060", outline, outline)
    surface = Surface(region, "base", (), outline, outline, 0.2, 0.0, "test")
    return split((surface,), settings or SplitSettings(), CRAFT, lambda finding: None)


def test_corners_of_a_thin_frame_stay_sharp() -> None:
    frame = box(0, 0, 16, 9).difference(box(0.28, 0.28, 15.72, 8.72))
    (part,) = parted(frame)
    (line,) = part.lines
    for corner in [(0.14, 0.14), (15.86, 0.14), (15.86, 8.86), (0.14, 8.86)]:
        assert np.hypot(*(line.points - corner).T).min() < 0.05


def test_a_round_line_has_no_corners() -> None:
    turn = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    rough = np.random.default_rng(5).uniform(-0.02, 0.02, (200, 2))
    line = smooth(np.column_stack([np.cos(turn), np.sin(turn)]) * 1.5 + rough, True)
    step = np.diff(np.vstack([line, line[:2]]), axis=0)
    heading = np.unwrap(np.arctan2(step[:, 1], step[:, 0]))
    assert np.degrees(np.abs(np.diff(heading)).max()) < 40
    assert np.abs(np.hypot(*line.T) - 1.5).max() < 0.05


@pytest.mark.parametrize("width", [0.02, 0.04, 0.08, 0.15])
def test_the_axis_runs_through_slivers(width: float) -> None:
    """Narrower than the distance of samples, the axis must not break up."""
    turn = np.linspace(0.3, 2.4, 60)
    arc = LineString(8.0 * np.column_stack([np.cos(turn), np.sin(turn)]))
    axis = medial_axis(arc.buffer(width / 2, cap_style="flat"), 0.06, 0.6)
    length = sum(LineString(branch.points).length for branch in axis.branches)
    assert length == pytest.approx(arc.length, abs=0.4)


def test_a_blob_on_a_thin_line_is_a_part_of_its_own() -> None:
    area = box(0, 0, 20, 0.3).union(Point(7, 0.5).buffer(0.55))
    kinds = sorted(part.kind for part in parted(area))
    assert kinds == ["run", "satin"]
    union = shapely.union_all([part.area for part in parted(area)])
    assert union.symmetric_difference(area).area < 1e-4 * area.area


@pytest.mark.parametrize("low", [0.25, 0.3, 0.4, 0.5])
@pytest.mark.parametrize("high", [3.0, 4.0, 5.0])
def test_a_wedge_changes_its_kind_where_its_width_crosses_the_limit(low: float, high: float) -> None:
    area = Polygon([(0, -low / 2), (60, -high / 2), (60, high / 2), (0, low / 2)])
    settings = SplitSettings(hairline_mm=1.0, overlap_mm=0.0)
    found = max(part.area.bounds[2] for part in parted(area, settings) if part.kind != "satin")
    assert found == pytest.approx(60 * (settings.run_below_mm - low) / (high - low), abs=0.3)


def test_a_leaf_is_bolder_than_a_run_but_a_sliver_is_not() -> None:
    leaf = Point(0, 0).buffer(0.9).intersection(Point(1.25, 0).buffer(0.9))
    sliver = Polygon([(0, 0), (9, 0.06), (18, 0)])
    assert [part.kind for part in parted(leaf)] == ["triple run"]
    assert [part.kind for part in parted(sliver)] == ["run"]
