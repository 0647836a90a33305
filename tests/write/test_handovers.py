"""A picture of every handover: well-formed, and showing what it is asked to show."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import hand_plans
import numpy as np
import pytest
from handovers import KIND_COLOURS, LAYER_COLOURS, trace_svg

from pipeline.model import Block, Column, Line, Part, Step, Strand, Stroke, points

SVG = "{http://www.w3.org/2000/svg}"
PLAN = hand_plans.plan()


def drawn(room: str, items: object) -> ET.Element:
    return ET.fromstring(trace_svg(room, items, 40.0, 30.0))  # type: ignore[arg-type]


def paths(root: ET.Element, **wanted: str) -> list[str]:
    found = root.findall(f"./{SVG}g/{SVG}path")
    return [p.attrib["d"] for p in found if all(p.get(k.replace("_", "-")) == v for k, v in wanted.items())]


def labels(root: ET.Element) -> list[str]:
    return [text.text or "" for text in root.iter(f"{SVG}text")]


def test_the_drawing_is_to_scale_with_its_viewport() -> None:
    root = drawn("read", PLAN.source.shapes)
    left, top, width, height = map(float, root.attrib["viewBox"].split())
    assert (root.attrib["width"], root.attrib["height"]) == (f"{width:g}mm", f"{height:g}mm")
    assert left < 0 < 40 < left + width
    assert top < 0 < 30 < top + height


def test_read_shows_each_shape_and_the_centrelines_of_strokes() -> None:
    shape = PLAN.source.shapes[0]
    stroke = Stroke((Line(points([[1, 1], [5, 1], [5, 4]]), closed=True),), 0.8)
    root = drawn("read", [shape, type(shape)("a<b", None, "#112233", shape.area, stroke)])
    assert len(paths(root, fill="#112233")) == 1
    assert paths(root, fill="none") == ["M1.00 1.00L5.00 1.00L5.00 4.00Z"]
    assert "a<b" in [title.text for title in root.iter(f"{SVG}title")]


def test_regions_are_drawn_bottom_first_with_their_ids() -> None:
    root = drawn("regions", [s.region for s in PLAN.surfaces])
    assert labels(root) == ["r1", "r2", "r3"]
    fills = [p.get("fill") for p in root.iter(f"{SVG}path") if (p.get("fill") or "").startswith("#")]
    assert fills == ["#c8102e", "#f2c230", "#1f3a68"]


def test_the_bare_part_is_hatched() -> None:
    root = drawn("roles", PLAN.surfaces)
    hatched = paths(root, fill="url(#bare)")
    assert len(hatched) == 3
    assert hatched[1].count("Z") == 2  # the two ends of the bar
    assert hatched[2] == ""  # the collar lies on stitches


def test_parts_have_their_kinds_colour_and_a_column_its_cross_sections() -> None:
    part = PLAN.parts[2]
    column = Column(points([[1, 1], [2, 1], [3, 1]]), points([[1, 2], [2, 2], [3, 2]]))
    line = Line(points([[4, 4], [9, 4]]))
    run = Part(
        "r3.2", "r3", "run", part.area, (0.4, 0.4, 0.4), PLAN.parts[0].foundation, 0.2, "Thin.", lines=(line,)
    )
    satin = Part("r3.1", "r3", "satin", part.area, (2, 2, 2), run.foundation, 0.2, "Narrow.", column=column)
    root = drawn("split", [PLAN.parts[0], satin, run])
    for kind in ("tatami", "satin", "run"):
        assert len(paths(root, fill=KIND_COLOURS[kind])) == 1  # type: ignore[index]
    assert paths(root, stroke="#7a4a00") == ["M1.00 1.00L1.00 2.00 M2.00 1.00L2.00 2.00 M3.00 1.00L3.00 2.00"]
    assert "M4.00 4.00L9.00 4.00" in paths(root)
    assert labels(root) == list(KIND_COLOURS)


def test_steps_are_numbered_and_joined_red_where_the_colour_changes() -> None:
    steps = [
        Step(PLAN.parts[0], "#c8102e", (10.0, 15.0), (30.0, 15.0)),
        Step(PLAN.parts[1], "#c8102e", (5.0, 15.0), (35.0, 15.0)),
        Step(PLAN.parts[2], "#1f3a68", (32.0, 15.0), (32.0, 15.0)),
    ]
    root = drawn("steps", steps)
    assert labels(root) == ["1", "2", "3"]
    assert paths(root, stroke="#b3261e") == ["M35.00 15.00L32.00 15.00"]
    assert "M30.00 15.00L5.00 15.00" in paths(root, stroke="#222")


def test_stitches_show_every_needle_point_in_its_layers_colour() -> None:
    under, cover = points([[10, 15], [12, 15]]), points([[13, 15], [13, 17], [15, 17]])
    step = Step(PLAN.parts[0], "#c8102e", (10.0, 15.0), (15.0, 17.0))
    root = drawn("stitch", [Block(step, (Strand("foundation", under), Strand("cover", cover)))])
    dots = " ".join(d for d in paths(root, stroke=LAYER_COLOURS["cover"]) if "h0" in d)
    assert dots.count("h0") == 4  # and where the strand before it ended
    line = next(d for d in paths(root, stroke=LAYER_COLOURS["cover"]) if "h0" not in d)
    assert line == "M12.00 15.00L13.00 15.00L13.00 17.00L15.00 17.00"


def test_moves_between_passes_are_dashed_red_if_cut() -> None:
    root = drawn("tie", PLAN.sewing.passes)
    dashed = [p for p in root.iter(f"{SVG}path") if p.get("stroke-dasharray")]
    assert [p.get("stroke") for p in dashed] == ["#b3261e", "#b3261e", "#b3261e", "#222"]
    needle = sum(d.count("h0") for d in paths(root))
    joined = sum(step.approach == "sewn" for step in PLAN.sewing.passes)
    assert needle == sum(len(step.points) for step in PLAN.sewing.passes) + joined


@pytest.mark.parametrize("room", ["read", "regions", "roles", "split", "steps", "stitch", "tie"])
def test_nothing_handed_on_is_an_empty_picture(room: str) -> None:
    assert paths(drawn(room, ())) == []


def test_a_room_without_a_handover_is_refused() -> None:
    with pytest.raises(KeyError, match="kitchen"):
        trace_svg("kitchen", (), 1.0, 1.0)


def test_angles_run_anticlockwise_as_seen() -> None:
    """45° points right and up, so its tick goes to larger x and smaller y."""
    part = PLAN.parts[0]
    root = drawn(
        "split", [Part("r1.1", "r1", "tatami", part.area, part.width_mm, part.foundation, 0.2, ".", angle_deg=45.0)]
    )
    (tick,) = paths(root, stroke="#000", stroke_width="0.3")
    (x0, y0), (x1, y1) = (map(float, pair.split()) for pair in tick[1:].split("L"))
    np.testing.assert_allclose([x1 - x0, y1 - y0], [4 / np.sqrt(2), -4 / np.sqrt(2)], atol=0.02)
