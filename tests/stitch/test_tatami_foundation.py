"""Foundation beneath a tatami: where, which kind, and in one thread with the cover."""

import numpy as np
import pytest
from crafts import craft
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, Polygon, box

from pipeline.model import Fabric, Part, Step, Strand
from pipeline.stitch.settings import TatamiSettings
from pipeline.stitch.tatami import lay_tatami


def fabric(foundation: str) -> Fabric:
    return Fabric("test cloth", 0.15, 0.2, 0.4, foundation, "cut-away", 1.0)  # type: ignore[arg-type]


def laid(area: Polygon, bare: MultiPolygon, kind: str = "edge and rows", angle: float = 0.0) -> tuple[Strand, ...]:
    part = Part("p1", "r1", "tatami", area, (5, 9, 12), bare, 0.2, "", bare=bare, angle_deg=angle)
    ring = area.exterior.coords
    step = Step(part, "#204060", ring[0], ring[len(ring) // 2])
    return lay_tatami(step, TatamiSettings(), craft(fabric(kind))).strands


def threads(strands: tuple[Strand, ...], layer: str) -> list[np.ndarray]:
    """Lines of one layer, each with the point that it runs on from."""
    found, last = [], None
    for strand in strands:
        if strand.layer == layer:
            found.append(strand.points if last is None else np.vstack([last, strand.points]))
        last = strand.points[-1:]
    return found


WINDOW = Point(15, 15).buffer(15, 64).difference(box(10, 12, 18, 18))


@pytest.mark.parametrize("kind", ["edge", "edge and rows", "edge and light rows", "edge and crossed rows"])
def test_foundation_keeps_inside_the_covers_edge_and_comes_first(kind: str) -> None:
    strands = laid(WINDOW, MultiPolygon([WINDOW]), kind)
    layers = [strand.layer for strand in strands]
    assert "foundation" in layers
    assert max(i for i, layer in enumerate(layers) if layer == "foundation") < layers.index("cover")
    for line in threads(strands, "foundation"):
        assert WINDOW.buffer(-0.4).covers(LineString(line[2:]))


def test_open_rows_run_across_the_cover_at_their_distance() -> None:
    area = box(0, 0, 40, 30)
    line = max(threads(laid(area, MultiPolygon([area])), "foundation"), key=len)
    step = np.diff(line, axis=0)
    inner = (np.abs(line[:-1, 0] - 20) < 17) & (np.abs(step[:, 0]) < 0.05) & (np.abs(step[:, 1]) > 1.0)
    rows = np.unique(np.round(line[:-1][inner][:, 0], 2))
    assert len(rows) >= 12
    np.testing.assert_allclose(np.diff(rows), 2.5, atol=0.1)


@pytest.mark.parametrize("kind", ["edge", "edge and rows"])
def test_the_edge_run_goes_round_every_outline(kind: str) -> None:
    line = MultiLineString(threads(laid(WINDOW, MultiPolygon([WINDOW]), kind), "foundation"))
    for ring in WINDOW.buffer(-0.5).boundary.geoms:
        assert ring.difference(line.buffer(0.2)).length < 0.05 * ring.length


def test_only_the_bare_part_gets_foundation() -> None:
    area, bare = box(0, 0, 40, 20), box(0, 0, 15, 20)
    strands = laid(area, MultiPolygon([bare]))
    lines = threads(strands, "foundation")
    assert lines
    for line in lines:
        assert line[1:, 0].max() < 15


def test_two_bare_parts_are_joined_by_travel_inside_the_area() -> None:
    area = WINDOW
    bare = MultiPolygon([WINDOW.intersection(box(0, 0, 9, 30)), WINDOW.intersection(box(19, 0, 30, 30))])
    strands = laid(area, bare)
    assert [s.layer for s in strands if s.layer != "cover"][:4] == ["travel", "foundation", "travel", "foundation"]
    whole = LineString(np.vstack([strand.points for strand in strands]))
    assert whole.difference(area.buffer(0.4)).length == 0


@pytest.mark.parametrize(("size", "count"), [(2.0, 0), (5.0, 1)])
def test_small_areas_get_little_or_none(size: float, count: int) -> None:
    area = box(0, 0, size, size)
    strands = laid(area, MultiPolygon([area]))
    lines = threads(strands, "foundation")
    assert len(lines) == count
    if lines:
        steps = np.hypot(*np.diff(lines[0], axis=0).T)
        assert steps.sum() == pytest.approx(4 * (size - 1), rel=0.2)


def test_thread_runs_on_without_repeats_or_long_stitches() -> None:
    for bare in (MultiPolygon(), MultiPolygon([WINDOW])):
        strands = laid(WINDOW, bare, angle=37.0)
        whole = np.vstack([strand.points for strand in strands])
        assert tuple(whole[0]) == WINDOW.exterior.coords[0]
        steps = np.hypot(*np.diff(whole, axis=0).T)
        assert steps.min() >= 0.3
        assert steps.max() <= 7.0
