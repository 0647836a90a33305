"""Colours: CSS values, means in linear light, merging."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.read import colour


def test_lab_of_known_colours() -> None:
    """White, black and sRGB red under D65; IEC 61966-2-1 primaries, from memory."""
    found = colour.lab(np.array([(1.0, 1, 1), (0, 0, 0), (1, 0, 0)]))
    np.testing.assert_allclose(found, [(100, 0, 0), (0, 0, 0), (53.24, 80.09, 67.20)], atol=0.02)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("#f80", "#ff8800"),
        ("#FF8800", "#ff8800"),
        ("rgb(0 128 0)", "#008000"),
        ("rgb(10%, 80%, 30%)", "#1acc4c"),
        ("hsl(120 100% 25%)", "#008000"),
        ("hsl(120deg, 100%, 25%)", "#008000"),
        ("hwb(90 10% 20%)", "#73cc1a"),
        ("rebeccapurple", "#663399"),
        (" navy ", "#000080"),
    ],
)
def test_css_colours(text: str, wanted: str) -> None:
    """W3C CSS Color 4; hex values from memory."""
    found = colour.parse(text)
    assert found is not None
    assert colour.hexed(found[:3]) == wanted
    assert found[3] == 1.0


@pytest.mark.parametrize(
    ("text", "alpha"), [("#ff000080", 128 / 255), ("rgb(1 2 3 / 40%)", 0.4), ("transparent", 0)]
)
def test_css_alpha(text: str, alpha: float) -> None:
    found = colour.parse(text)
    assert found is not None
    assert found[3] == pytest.approx(alpha)


@pytest.mark.parametrize("text", ["", "blurple", "#12", "#12345g", "rgb(1,2)", "url(#x)", "((("])
def test_what_is_no_colour(text: str) -> None:
    assert colour.parse(text) is None


def test_mean_is_taken_in_linear_light() -> None:
    """Half black, half white is 0.5 of light, which sRGB writes as 0.7354 (IEC 61966-2-1)."""
    r, g, b, alpha = colour.mean(np.array([(0.0, 0, 0, 1), (1, 1, 1, 1)]), np.ones(2))
    assert (r, g, b) == pytest.approx((0.7354, 0.7354, 0.7354), abs=1e-4)
    assert alpha == 1


def test_mean_counts_transparent_parts_less() -> None:
    r, _, b, alpha = colour.mean(np.array([(1.0, 0, 0, 1), (0, 0, 1, 0)]), np.array([1.0, 3.0]))
    assert (r, b, alpha) == pytest.approx((1.0, 0.0, 0.25))


def test_near_colours_go_to_the_larger() -> None:
    areas = {"#ff0000": 2.0, "#fe0000": 9.0, "#0000ff": 1.0}
    assert colour.merged(areas, 2.3, 0) == {"#ff0000": "#fe0000", "#fe0000": "#fe0000", "#0000ff": "#0000ff"}
    assert len(set(colour.merged(areas, 0.0, 0).values())) == 3


def test_limited_threads_give_up_the_cheapest() -> None:
    areas = {"#ff0000": 50.0, "#e01010": 5.0, "#0000ff": 40.0, "#ffffff": 30.0}
    thread = colour.merged(areas, 0.0, 3)
    assert thread["#e01010"] == "#ff0000"
    assert len(set(thread.values())) == 3
    assert len(set(colour.merged(areas, 0.0, 1).values())) == 1
