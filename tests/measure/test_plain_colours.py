"""Colour difference and plain names."""

from __future__ import annotations

from io import StringIO

import numpy as np
import pytest

from pipeline import colour

# Sharma, Wu and Dalal, Color Research & Application 30(1), 2005, table 1: L*a*b* of both, CIEDE2000.
PAIRS = np.loadtxt(
    StringIO("""
    50 2.6772 -79.7751  50 0 -82.7485  2.0425
    50 3.1571 -77.2803  50 0 -82.7485  2.8615
    50 2.8361 -74.0200  50 0 -82.7485  3.4412
    50 -1.3802 -84.2814  50 0 -82.7485  1.0000
    50 -1.1848 -84.8006  50 0 -82.7485  1.0000
    50 -0.9009 -85.5211  50 0 -82.7485  1.0000
    50 0 0  50 -1 2  2.3669
    50 -1 2  50 0 0  2.3669
    50 2.4900 -0.0010  50 -2.4900 0.0009  7.1792
    50 2.4900 -0.0010  50 -2.4900 0.0010  7.1792
    50 2.4900 -0.0010  50 -2.4900 0.0011  7.2195
    50 2.4900 -0.0010  50 -2.4900 0.0012  7.2195
    50 -0.0010 2.4900  50 0.0009 -2.4900  4.8045
    50 -0.0010 2.4900  50 0.0010 -2.4900  4.8045
    50 -0.0010 2.4900  50 0.0011 -2.4900  4.7461
    50 2.5 0  50 0 -2.5  4.3065
    50 2.5 0  73 25 -18  27.1492
    50 2.5 0  61 -5 29  22.8977
    50 2.5 0  56 -27 -3  31.9030
    50 2.5 0  58 24 15  19.4535
    50 2.5 0  50 3.1736 0.5854  1.0000
    50 2.5 0  50 3.2972 0  1.0000
    50 2.5 0  50 1.8634 0.5757  1.0000
    50 2.5 0  50 3.2592 0.3350  1.0000
    60.2574 -34.0099 36.2677  60.4626 -34.1751 39.4387  1.2644
    63.0109 -31.0961 -5.8663  62.8187 -29.7946 -4.0864  1.2630
    61.2901 3.7196 -5.3901  61.4292 2.2480 -4.9620  1.8731
    35.0831 -44.1164 3.7933  35.0232 -40.0716 1.5901  1.8645
    22.7233 20.0904 -46.6940  23.0331 14.9730 -42.5619  2.0373
    36.4612 47.8580 18.3852  36.2715 50.5065 21.2231  1.4146
    90.8027 -2.0831 1.4410  91.1528 -1.6435 0.0447  1.4441
    90.9257 -0.5406 -0.9208  88.6381 -0.8985 -0.7239  1.5381
    6.7747 -0.2908 -2.4247  5.8714 -0.0985 -2.2286  0.6377
    2.0776 0.0795 -1.1350  0.9033 -0.0636 -0.5514  0.9082
    """)
)


def test_difference_gives_the_published_pairs() -> None:
    assert len(PAIRS) == 34
    found = colour.difference(PAIRS[:, :3], PAIRS[:, 3:6])
    np.testing.assert_allclose(found, PAIRS[:, 6], atol=5e-5)


def test_difference_is_the_same_both_ways() -> None:
    one, other = PAIRS[:, :3], PAIRS[:, 3:6]
    np.testing.assert_allclose(colour.difference(one, other), colour.difference(other, one), atol=1e-9)


def test_difference_of_a_colour_and_itself_is_zero() -> None:
    assert colour.difference(PAIRS[:, :3], PAIRS[:, :3]).max() == 0.0


@pytest.mark.parametrize(
    ("code", "expected"),
    # CIE L*a*b* (D65) of the sRGB primaries, to the decimals in which they are commonly tabulated (from memory).
    [
        ("#ff0000", (53.24, 80.09, 67.20)),
        ("#00ff00", (87.73, -86.18, 83.18)),
        ("#0000ff", (32.30, 79.19, -107.86)),
        ("#ffffff", (100.0, 0.0, 0.0)),
        ("#000000", (0.0, 0.0, 0.0)),
    ],
)
def test_lab_of_the_primaries(code: str, expected: tuple[float, float, float]) -> None:
    np.testing.assert_allclose(colour.lab(colour.rgb(code)), expected, atol=0.02)


def test_every_name_names_its_own_colour() -> None:
    assert len(colour.NAMES) == len(set(colour.NAMES.values())) == 139  # 148 of the standard less 9 twins
    for name, value in colour.NAMES.items():
        assert colour.name("#" + bytes(value).hex()) == name


def test_a_near_colour_gets_the_nearest_name() -> None:
    assert colour.name("#473e8c") == "dark slate blue"
    assert colour.name("#fdfdfd") == "white"


def test_names_are_plain_words() -> None:
    assert all(name == name.lower() and name.replace(" ", "").isalpha() for name in colour.NAMES)
