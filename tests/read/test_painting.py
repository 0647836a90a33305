"""What is painted, by picture: one tiny file a feature against the reference renderer (PyPI resvg_py 0.5)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from read_pictures import Picture, agreement, painted, references

from pipeline.model import Finding
from pipeline.read.reading import read_drawing
from pipeline.read.settings import ReadSettings

EXACT = ReadSettings(keep_page=True, same_colour=0.0)
FOLDER = Path(__file__).parents[1] / "svg_features"
FILES = {str(path.relative_to(FOLDER).with_suffix("")): path for path in sorted(FOLDER.rglob("*.svg"))}
CHAPTERS = {"structure", "style", "painting", "shapes", "paths", "text", "masking"}


@pytest.fixture(scope="module")
def wanted() -> dict[str, Picture | None]:
    pictures = references([(path.read_bytes(), 300) for path in FILES.values()], fonts=True)
    return dict(zip(FILES, pictures, strict=True))


def test_the_table_is_whole() -> None:
    assert {name.split("/")[0] for name in FILES} == CHAPTERS
    assert len(FILES) >= 190


@pytest.mark.parametrize("name", list(FILES))
def test_painted_as_the_reference_paints_it(name: str, wanted: dict[str, Picture | None]) -> None:
    found: list[Finding] = []
    try:
        drawing = read_drawing(FILES[name], EXACT, found.append)
    finally:
        if any("font is not on this machine" in finding.message for finding in found):
            pytest.skip("the fonts of this case (DejaVu, Liberation) are not on this machine")
    theirs = wanted[name]
    assert theirs is not None, "the reference renderer paints nothing"
    rows = 300 * drawing.height_mm / drawing.width_mm
    assert abs(rows - theirs.shape[0]) <= 1
    # Small letters are all edge: their anti-aliased rims leave less to judge, and a hair more to err in.
    assert agreement(painted(drawing, theirs.shape), theirs) >= (0.995 if name.startswith("text/") else 0.998)


def test_the_comparison_can_fail(wanted: dict[str, Picture | None]) -> None:
    theirs = wanted["painting/nonzero"]
    assert theirs is not None
    drawing = read_drawing(FILES["painting/evenodd"], EXACT, lambda _: None)
    assert agreement(painted(drawing, theirs.shape), theirs) < 0.96
    assert agreement(np.zeros_like(theirs), theirs) < 0.7
