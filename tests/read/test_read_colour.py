"""Colours: CIEDE2000 against published pairs, CSS values, means in linear light, merging."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.read import colour

# Sharma, Wu and Dalal, Color Research & Application 30(1), 2005, table 1: the 34 pairs, from memory.
PAIRS = """
50.0000 2.6772 -79.7751 50.0000 0.0000 -82.7485 2.0425
50.0000 3.1571 -77.2803 50.0000 0.0000 -82.7485 2.8615
50.0000 2.8361 -74.0200 50.0000 0.0000 -82.7485 3.4412
50.0000 -1.3802 -84.2814 50.0000 0.0000 -82.7485 1.0000
50.0000 -1.1848 -84.8006 50.0000 0.0000 -82.7485 1.0000
50.0000 -0.9009 -85.5211 50.0000 0.0000 -82.7485 1.0000
50.0000 0.0000 0.0000 50.0000 -1.0000 2.0000 2.3669
50.0000 -1.0000 2.0000 50.0000 0.0000 0.0000 2.3669
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0009 7.1792
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0010 7.1792
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0011 7.2195
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0012 7.2195
50.0000 -0.0010 2.4900 50.0000 0.0009 -2.4900 4.8045
50.0000 -0.0010 2.4900 50.0000 0.0010 -2.4900 4.8045
50.0000 -0.0010 2.4900 50.0000 0.0011 -2.4900 4.7461
50.0000 2.5000 0.0000 50.0000 0.0000 -2.5000 4.3065
50.0000 2.5000 0.0000 73.0000 25.0000 -18.0000 27.1492
50.0000 2.5000 0.0000 61.0000 -5.0000 29.0000 22.8977
50.0000 2.5000 0.0000 56.0000 -27.0000 -3.0000 31.9030
50.0000 2.5000 0.0000 58.0000 24.0000 15.0000 19.4535
50.0000 2.5000 0.0000 50.0000 3.1736 0.5854 1.0000
50.0000 2.5000 0.0000 50.0000 3.2972 0.0000 1.0000
50.0000 2.5000 0.0000 50.0000 1.8634 0.5757 1.0000
50.0000 2.5000 0.0000 50.0000 3.2592 0.3350 1.0000
60.2574 -34.0099 36.2677 60.4626 -34.1751 39.4387 1.2644
63.0109 -31.0961 -5.8663 62.8187 -29.7946 -4.0864 1.2630
61.2901 3.7196 -5.3901 61.4292 2.2480 -4.9620 1.8731
35.0831 -44.1164 3.7933 35.0232 -40.0716 1.5901 1.8645
22.7233 20.0904 -46.6940 23.0331 14.9730 -42.5619 2.0373
36.4612 47.8580 18.3852 36.2715 50.5065 21.2231 1.4146
90.8027 -2.0831 1.4410 91.1528 -1.6435 0.0447 1.4441
90.9257 -0.5406 -0.9208 88.6381 -0.8985 -0.7239 1.5381
6.7747 -0.2908 -2.4247 5.8714 -0.0985 -2.2286 0.6377
2.0776 0.0795 -1.1350 0.9033 -0.0636 -0.5514 0.9082
"""


def test_ciede2000_on_the_published_pairs() -> None:
    table = np.array([line.split() for line in PAIRS.strip().splitlines()], dtype=float)
    assert table.shape == (34, 7)
    found = colour.difference(table[:, :3], table[:, 3:6])
    np.testing.assert_allclose(found, table[:, 6], atol=5e-5)
    np.testing.assert_allclose(colour.difference(table[:, 3:6], table[:, :3]), table[:, 6], atol=5e-5)


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
