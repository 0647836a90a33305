"""What is painted, by picture: every small case against the reference renderer (PyPI resvg_py 0.5)."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from read_pictures import Picture, agreement, painted, references

from pipeline.model import Finding
from pipeline.read import ReadSettings, read_drawing

EXACT = ReadSettings(keep_page=True, same_colour=0.0)
HEAD = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
CASE = re.compile(r"([\w-]+): (?:\[(.*?)\] )?(.*)")


def _files() -> dict[str, str]:
    """The table beside this file as whole documents."""
    lines = (Path(__file__).parent / "paint_cases.txt").read_text(encoding="utf-8").splitlines()
    found = [CASE.fullmatch(line) for line in lines if line and not line.startswith("# ")]
    assert all(found), "a line of the table is malformed"
    rows = [match.groups() for match in found if match]
    files = {name: f"<svg {HEAD} {sheet or SHEET}>{body}</svg>" for name, sheet, body in rows}
    assert len(files) == len(rows) > 150, "a name is used twice, or the table is cut short"
    return files


SHEET = 'width="100" height="100"'
FILES = _files()


@pytest.fixture(scope="module")
def wanted() -> dict[str, Picture | None]:
    pictures = references([(text.encode(), 300) for text in FILES.values()])
    return dict(zip(FILES, pictures, strict=True))


@pytest.mark.parametrize("name", list(FILES))
def test_painted_as_the_reference_paints_it(name: str, wanted: dict[str, Picture | None], tmp_path: Path) -> None:
    path = tmp_path / "case.svg"
    path.write_text(FILES[name])
    found: list[Finding] = []
    drawing = read_drawing(path, EXACT, found.append)
    theirs = wanted[name]
    assert theirs is not None, "the reference renderer paints nothing"
    rows = 300 * drawing.height_mm / drawing.width_mm
    assert abs(rows - theirs.shape[0]) <= 1
    assert agreement(painted(drawing, theirs.shape), theirs) >= 0.998


def test_the_comparison_can_fail(wanted: dict[str, Picture | None], tmp_path: Path) -> None:
    path = tmp_path / "case.svg"
    path.write_text(FILES["evenodd"])
    theirs = wanted["nonzero"]
    assert theirs is not None
    assert agreement(painted(read_drawing(path, EXACT, lambda _: None), theirs.shape), theirs) < 0.96
    assert agreement(np.zeros_like(theirs), theirs) < 0.7
