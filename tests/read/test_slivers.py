"""Anti-aliased hairline slivers that exporters leave are cleaned away; lines that were drawn are not."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.model import Finding
from pipeline.read.reading import read_drawing
from pipeline.read.settings import ReadSettings

FRAME = '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" viewBox="0 0 40 40">{}</svg>'
SQUARE = '<rect id="big" x="5" y="5" width="30" height="30" fill="#123456"/>'


def drawn(folder: Path, body: str) -> tuple[list[str], list[Finding]]:
    file = folder / "made.svg"
    file.write_text(FRAME.format(SQUARE + body))
    found: list[Finding] = []
    drawing = read_drawing(file, ReadSettings(), found.append)
    return [shape.element for shape in drawing.shapes], found


@pytest.mark.parametrize(
    ("body", "kept"),
    [
        ('<rect id="sliver" x="2" y="5" width="0.03" height="30" fill="#fa0"/>', False),
        ('<path id="sliver" d="M35.1 5h0.04v30h-0.04z M2 2h.02v20h-.02z" fill="#fa0"/>', False),
        ('<rect id="sliver" x="2" y="5" width="0.1" height="30" fill="#fa0"/>', True),
        ('<path id="sliver" d="M2 5V35" stroke="#fa0" stroke-width="0.03"/>', True),
        ('<path id="sliver" d="M2 5h.03v10h1v-9.9h-1z" fill="#fa0"/>', True),
    ],
)
def test_filled_hairline_goes_and_is_told(tmp_path: Path, body: str, kept: bool) -> None:
    elements, found = drawn(tmp_path, body)
    assert ("sliver" in elements) == kept
    assert any(f.code == "specks-left-out" and "sliver" in f.message for f in found) != kept
