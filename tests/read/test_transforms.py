"""Transform lists mean what W3C CSS Transforms says: places worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.read.matrix import apply, parse

CASES = [
    ("rotate(90 10 4)", (12, 4), (10, 6)),
    ("rotate(90)", (12, 4), (-4, 12)),
    ("translate(10 4) rotate(90) translate(-10 -4)", (12, 4), (10, 6)),
    ("translate(5) scale(2 3)", (1, 1), (7, 3)),
    ("scale(2 3) translate(5)", (1, 1), (12, 3)),
    ("skewX(45)", (1, 2), (3, 2)),
    ("skewY(45)", (1, 2), (1, 3)),
    ("matrix(1 2 3 4 5 6)", (1, 1), (9, 12)),
]


@pytest.mark.parametrize(("text", "place", "goes"), CASES)
def test_a_place_goes_where_the_list_takes_it(
    text: str, place: tuple[float, float], goes: tuple[float, float]
) -> None:
    assert apply(parse(text), np.array([place], dtype=float))[0] == pytest.approx(goes, abs=1e-9)
