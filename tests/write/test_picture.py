"""The sewn picture: where thread lies, which lies on top, and how light falls on it."""

from __future__ import annotations

import dataclasses
import io

import hand_plans
import numpy as np
import pytest
from PIL import Image

from pipeline.model import Pass, Plan
from pipeline.write.light import GLOSS, WANDER, Lit
from pipeline.write.picture import GROUNDS, LARGEST_PX, picture, picture_bytes
from pipeline.write.settings import WriteSettings

SETTINGS = WriteSettings()


def with_passes(*passes: Pass) -> Plan:
    plan = hand_plans.plan()
    return dataclasses.replace(plan, sewing=dataclasses.replace(plan.sewing, passes=passes))


def at(image: np.ndarray, x: float, y: float, settings: WriteSettings = SETTINGS, reach: float = 0.6) -> np.ndarray:
    """The mean colour about a place in mm."""
    left, top = ((v + settings.picture_margin_mm) * settings.picture_px_per_mm for v in (x, y))
    half = reach * settings.picture_px_per_mm
    window = image[round(top - half) : round(top + half) + 1, round(left - half) : round(left + half) + 1]
    return window.reshape(-1, 3).mean(axis=0)


def rgb(colour: str) -> np.ndarray:
    return np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)])


def test_it_is_a_png_of_the_viewport_and_its_margin() -> None:
    image = Image.open(io.BytesIO(picture_bytes(hand_plans.plan(), SETTINGS)))
    assert image.format == "PNG"
    assert image.size == (500, 400)  # (40 + 2·5) mm × (30 + 2·5) mm at 10 px/mm


def test_the_same_plan_gives_the_same_picture() -> None:
    assert picture_bytes(hand_plans.plan(), SETTINGS) == picture_bytes(hand_plans.plan(), SETTINGS)


def test_each_place_looks_like_the_thread_on_top() -> None:
    image = picture(hand_plans.plan(), SETTINGS)
    for x, y, colour in [(20, 8, "#c8102e"), (20, 13, "#f2c230"), (6, 13, "#f2c230"), (20, 3, "#1f3a68")]:
        others = {"#c8102e", "#f2c230", "#1f3a68", "#e6dfd0"} - {colour}
        seen = at(image, x, y)
        nearest = min(np.abs(seen - rgb(other)).sum() for other in others)
        assert np.abs(seen - rgb(colour)).sum() < min(110, nearest)


def test_bare_fabric_keeps_the_grounds_colour() -> None:
    for ground, colour in GROUNDS.items():
        settings = dataclasses.replace(SETTINGS, ground=ground)
        image = picture(hand_plans.plan(), settings)
        assert np.abs(at(image, 2, 2) - rgb(colour)).max() < 14


def test_thread_has_its_real_width() -> None:
    """A straight line of 20 mm covers 20 mm × the laid width and its two round ends."""
    line = hand_plans.sewn(0, [(x, 15) for x in range(10, 31, 4)] + [(30, 15)], "jump")
    settings = WriteSettings(picture_px_per_mm=20, picture_detail=3, ground="white")
    plan = with_passes(line)
    thick = plan.settings | {"thread": plan.settings["thread"] | {"laid_mm": 0.4}}
    image = picture(dataclasses.replace(plan, settings=thick), settings).astype(int)
    red = (image[:, :, 0] - image[:, :, 2]) > 40
    assert red.sum() / 400 == pytest.approx(20 * 0.4 + np.pi * 0.2**2, rel=0.12)


def test_trims_draw_nothing_and_uncut_jumps_a_thin_thread() -> None:
    def drawn(approach: str) -> float:
        one = hand_plans.sewn(0, [(5, 15), (6, 15)], "jump")
        two = hand_plans.sewn(0, [(30, 15), (31, 15)], approach)  # type: ignore[arg-type]
        image = picture(with_passes(one, two), dataclasses.replace(SETTINGS, ground="white", picture_detail=4))
        return float(255 - at(image, 18, 15)[1])

    plain = drawn("trim")
    assert drawn("colour") == plain
    jumped, sewn = drawn("jump"), drawn("sewn")
    assert plain + 5 < jumped < sewn - 5


def test_later_thread_covers_earlier_thread() -> None:
    under = hand_plans.sewn(0, hand_plans.rows(hand_plans.box(10, 10, 20, 20), 0), "jump")
    over = hand_plans.sewn(1, hand_plans.rows(hand_plans.box(10, 10, 20, 20), 90), "colour")
    seen = at(picture(with_passes(under, over), SETTINGS), 15, 15, reach=3)
    assert np.abs(seen - rgb("#f2c230")).sum() < 90


def test_fills_of_one_colour_shine_by_their_direction() -> None:
    tiles = [
        hand_plans.sewn(
            0, hand_plans.rows(hand_plans.box(4 + 10 * i, 10, 12 + 10 * i, 18), angle), "jump" if not i else "trim"
        )
        for i, angle in enumerate((35.0, 125.0))
    ]
    image = picture(with_passes(*tiles), SETTINGS)
    square, along = at(image, 8, 14, reach=2).sum(), at(image, 18, 14, reach=2).sum()
    assert abs(square - along) > 12


def test_single_threads_can_be_told_apart() -> None:
    """Across a fill the brightness swings with every row; along its rows hardly."""
    fill = hand_plans.sewn(0, hand_plans.rows(hand_plans.box(10, 10, 20, 20), 0), "jump")
    settings = WriteSettings(picture_px_per_mm=20, picture_detail=3)
    image = picture(with_passes(fill), settings).astype(float)[:, :, 0]
    patch = image[20 * 18 : 20 * 22, 20 * 18 : 20 * 22]
    assert patch.mean(axis=1).std() > 8
    assert patch.mean(axis=1).std() > 2 * patch.mean(axis=0).std()


def test_nothing_sewn_is_bare_fabric_and_a_single_stitch_is_drawn() -> None:
    bare = picture(with_passes(), SETTINGS)
    assert bare.shape == (400, 500, 3)
    dot = picture(with_passes(hand_plans.sewn(0, [(20, 15)], "jump")), SETTINGS)
    assert dot.shape == bare.shape


def test_very_large_artwork_is_drawn_less_finely() -> None:
    plan = hand_plans.plan()
    source = dataclasses.replace(plan.source, width_mm=2000.0, height_mm=10.0)
    image = picture(dataclasses.replace(plan, source=source), WriteSettings(picture_detail=1))
    assert max(image.shape) <= LARGEST_PX + 1


@pytest.mark.parametrize("degrees", [0.0, 40.0, 75.0, 110.0, 160.0])
def test_sheen_is_a_fibres(degrees: float) -> None:
    """The tenth power of sin² of the angle between the mirror's direction and the fibre (Kajiya & Kay 1989)."""
    way = np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees)), 0.0])
    mirror = np.array([-0.42, -0.55, 0.72]) / np.linalg.norm([-0.42, -0.55, 0.72]) + [0.0, 0.0, 1.0]
    lean = way @ mirror / np.linalg.norm(mirror)
    lit = Lit.of(np.array([[-2.0 * way[:2], 2.0 * way[:2]]]), np.array([0.25]))
    middle = np.zeros(1, dtype=np.float32)
    _, sheen = lit.shade(np.array([0]), middle, middle)
    assert sheen[0] == pytest.approx(GLOSS * (1.0 - WANDER / 2) * (1.0 - lean**2) ** 10, rel=1e-3)
