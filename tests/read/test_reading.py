"""What a drawing says of itself: sizes, names, strokes, flat colours, page, threads."""

from __future__ import annotations

import hashlib
import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from pipeline.errors import SettingsError
from pipeline.model import Drawing, Finding
from pipeline.read.reading import read_drawing
from pipeline.read.settings import ReadSettings

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
PX = 25.4 / 96


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "ferry.svg"


def _read(
    path: Path, body: str, sheet: str = 'width="100mm" height="100mm" viewBox="0 0 100 100"', **how: object
) -> tuple[Drawing, list[Finding]]:
    width = how.pop("width_mm", None)
    path.write_text(f"{HEAD} {sheet}>{body}</svg>", encoding="utf-8")
    found: list[Finding] = []
    settings = ReadSettings(**how)  # type: ignore[arg-type]
    return read_drawing(path, settings, found.append, width_mm=width), found  # type: ignore[arg-type]


def _codes(found: list[Finding]) -> list[str]:
    return [finding.code for finding in found]


@pytest.mark.parametrize(
    ("length", "mm"),
    [
        ("96px", 25.4),
        ("96", 25.4),
        ("1in", 25.4),
        ("72pt", 25.4),
        ("6pc", 25.4),
        ("2.54cm", 25.4),
        ("25.4mm", 25.4),
        ("101.6Q", 25.4),
        ("6em", 25.4),
        ("1e2", 100 * PX),
    ],
)
def test_css_lengths(path: Path, length: str, mm: float) -> None:
    """W3C CSS Values 4, 6.2: 1 in = 96 px = 72 pt = 6 pc = 2.54 cm = 25.4 mm = 101.6 Q."""
    drawing, _ = _read(path, f'<rect width="{length}" height="2in"/>', f'width="{length}" height="2in"')
    assert drawing.width_mm == pytest.approx(mm)
    assert drawing.height_mm == pytest.approx(50.8)
    assert drawing.shapes[0].area.bounds == pytest.approx((0, 0, mm, 50.8))


def test_width_scales_everything(path: Path) -> None:
    body = '<path d="M10 50H90" stroke="red" stroke-width="4"/>'
    drawing, _ = _read(path, body, 'width="200" height="100" viewBox="0 0 100 50"', width_mm=80.0)
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((80, 40))
    drawing, _ = _read(
        path, '<path d="M10 20H90" stroke="red" stroke-width="4"/>', 'viewBox="0 0 100 50"', width_mm=80
    )
    (shape,) = drawing.shapes
    assert shape.area.bounds == pytest.approx((8, 14.4, 72, 17.6))
    assert shape.stroke is not None
    assert shape.stroke.width_mm == pytest.approx(3.2)


def test_a_drawing_without_size_is_as_large_as_its_paint(path: Path) -> None:
    drawing, found = _read(path, '<rect x="-30" y="7" width="96" height="48"/>', "")
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((25.4, 12.7))
    assert drawing.shapes[0].area.bounds == pytest.approx((0, 0, 25.4, 12.7))
    assert "size-assumed" in _codes(found)


BOX = 'viewBox="0 0 80 40"'


@pytest.mark.parametrize(
    ("size", "mm"),
    [
        ('width="80,5mm" height="40,2mm"', (80.5, 40.2)),
        ('width="80,6mm"', (80.6, 40.3)),
        ('width="3inch" height="1.5 inches"', (76.2, 38.1)),
        ("width='3\"' height='1.5″'", (76.2, 38.1)),
        ('width="8 Centimeters" height="40millimetres"', (80.0, 40.0)),
        ('width="80mm;" height="40mm."', (80.0, 40.0)),
        ('width="96pixels" height="36points"', (25.4, 12.7)),
    ],
)
def test_a_slip_of_the_pen_in_a_size_is_read_as_meant_and_told(
    path: Path, size: str, mm: tuple[float, float]
) -> None:
    drawing, found = _read(path, '<rect width="80" height="40"/>', f"{size} {BOX}")
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx(mm)
    (told,) = [finding for finding in found if finding.code == "size-assumed"]
    assert told.severity == "note"
    assert f"{mm[0]:.1f} × {mm[1]:.1f} mm" in told.message


@pytest.mark.parametrize(
    ("size", "mm", "said"),
    [
        ("", (80 * PX, 40 * PX), "states no size in any unit"),
        ('width="100%" height="100%"', (80 * PX, 40 * PX), "states no size in any unit"),
        ('width="100vw" height="50vh"', (80 * PX, 40 * PX), "states no size in any unit"),
        ('width="auto" height="auto" style="width:100%"', (80 * PX, 40 * PX), "states no size in any unit"),
        ('width="100m" height="50m"', (80 * PX, 40 * PX), "width “100m” and height “50m” cannot be read"),
        ('width="1,000mm"', (80 * PX, 40 * PX), "“1,000mm” cannot be read"),
        ('width="wide" height="60mm"', (120.0, 60.0), "follows from the other side"),
        ('width="9e9mm"', (80 * PX, 40 * PX), "cannot be read"),
    ],
)
def test_a_size_that_is_not_plain_is_assumed_and_told_with_the_remedy(
    path: Path, size: str, mm: tuple[float, float], said: str
) -> None:
    drawing, found = _read(path, '<rect width="80" height="40"/>', f"{size} {BOX}")
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx(mm)
    (told,) = [finding for finding in found if finding.code == "size-assumed"]
    assert told.severity == "warning"
    assert said in told.message
    assert f"{mm[0]:.1f} × {mm[1]:.1f} mm" in told.message
    assert "--width" in told.message


@pytest.mark.parametrize(
    ("size", "how"),
    [
        ('width="80mm" height="40mm"', {}),
        ('width="80 mm" height="40 MM"', {}),
        ('width="200"', {}),
        ('width="100%" height="40mm"', {}),
        ('style="width:80mm;height:40mm"', {}),
        ('width="24" style="width:80mm"', {}),
        ("", {"width_mm": 80.0}),
        ('width="100m"', {"width_mm": 80.0}),
        ("", {"fit_width_mm": 100.0, "fit_height_mm": 40.0}),
    ],
)
def test_a_size_that_is_plain_or_asked_for_needs_no_word(path: Path, size: str, how: dict[str, float]) -> None:
    drawing, found = _read(path, '<rect width="80" height="40"/>', f"{size} {BOX}", **how)
    assert drawing.width_mm == pytest.approx(200 * PX if "200" in size else 80.0)
    assert "size-assumed" not in _codes(found)


def test_an_implausible_size_is_told(path: Path) -> None:
    _, found = _read(path, '<rect width="9" height="9"/>', 'width="9" height="9"')
    assert "size-implausible" in _codes(found)
    _, found = _read(path, '<rect width="9" height="9"/>')
    assert "size-implausible" not in _codes(found)


def test_identity_of_the_file(path: Path) -> None:
    drawing, _ = _read(path, '<rect width="9" height="9"/>')
    assert drawing.name == "ferry"
    assert drawing.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_elements_are_named_by_id_or_path(path: Path) -> None:
    body = (
        '<rect id="hull" width="9" height="9"/><g/><g><path d="M0 0H9V9z"/><circle r="4"/><path d="M0 0H8V8z"/></g>'
        '<defs><g id="gull"><path d="M0 0H9V9z"/></g></defs><use id="far" href="#gull"/><use href="#gull" x="9"/>'
    )
    drawing, _ = _read(path, body, least_area_mm2=0.0)
    assert [shape.element for shape in drawing.shapes] == [
        "hull",
        "svg/g[2]/path[1]",
        "svg/g[2]/circle[1]",
        "svg/g[2]/path[2]",
        "far/g[1]/path[1]",
        "svg/use[2]/g[1]/path[1]",
    ]


def test_labels_come_from_layers_and_titles(path: Path) -> None:
    body = (
        '<g xmlns:n="http://example.test/n" n:label="Water"><rect width="9" height="9"/></g>'
        '<circle r="5"><title>Buoy</title></circle><ellipse rx="5" ry="3"/>'
    )
    drawing, _ = _read(path, body)
    assert [shape.label for shape in drawing.shapes] == ["Water", "Buoy", None]


def test_a_stroke_lies_above_its_fill_with_its_centreline(path: Path) -> None:
    body = '<rect x="20" y="20" width="40" height="30" fill="gold" stroke="navy" stroke-width="4"/>'
    drawing, _ = _read(path, body)
    fill, stroke = drawing.shapes
    assert (fill.colour, stroke.colour) == ("#ffd700", "#000080")
    assert fill.stroke is None
    assert stroke.stroke is not None
    assert stroke.stroke.width_mm == pytest.approx(4)
    (line,) = stroke.stroke.lines
    assert line.closed
    assert line.points.tolist() == [[20, 20], [60, 20], [60, 50], [20, 50]]
    assert not line.points.flags.writeable
    assert stroke.area.area == pytest.approx(44 * 34 - 36 * 26)


def test_a_centreline_is_kept_only_under_similar_transforms(path: Path) -> None:
    body = '<path transform="{}" d="M5 5H15" stroke="red" stroke-width="2"/>'
    turned, _ = _read(path, body.format("rotate(30) scale(-2 2)").replace("M5 5H15", "M-15 5H-5"))
    assert turned.shapes[0].stroke is not None
    assert turned.shapes[0].stroke.width_mm == pytest.approx(4)
    skewed, _ = _read(path, body.format("scale(2 1)"))
    assert skewed.shapes[0].stroke is None
    assert skewed.shapes[0].area.area == pytest.approx(40)


def test_dashes_are_lines_of_their_own(path: Path) -> None:
    drawing, _ = _read(path, '<path d="M10 10H60" stroke="red" stroke-width="2" stroke-dasharray="15 5"/>')
    stroke = drawing.shapes[0].stroke
    assert stroke is not None
    assert [line.points[:, 0].tolist() for line in stroke.lines] == [[10, 25], [30, 45], [50, 60]]


def test_a_non_scaling_stroke_keeps_its_width(path: Path) -> None:
    how = 'transform="scale(4 2)" vector-effect="non-scaling-stroke"'
    body = f'<path {how} d="M5 5H15" stroke="red" stroke-width="3"/>'
    drawing, _ = _read(path, body, 'width="100" height="100"')
    assert drawing.shapes[0].area.area == pytest.approx(40 * 3 * PX * PX)


def test_a_stroke_cut_by_the_page_has_no_centreline(path: Path) -> None:
    drawing, _ = _read(path, '<path d="M50 50H150" stroke="red" stroke-width="2"/>')
    assert drawing.shapes[0].stroke is None
    assert drawing.shapes[0].area.bounds == pytest.approx((50, 49, 100, 51))


def test_flatness_is_kept_at_the_final_scale(path: Path) -> None:
    body = '<circle cx=".5" cy=".5" r=".5"/>'
    drawing, _ = _read(path, body, 'width="1" height="1"', width_mm=100)
    assert 0 < math.pi * 2500 - drawing.shapes[0].area.area < 2 * math.pi * 50 * 0.02


def test_translucent_paint_takes_the_colour_that_one_sees(path: Path) -> None:
    body = (
        '<rect width="40" height="40" fill="#ff0000"/>'
        '<rect id="veil" x="20" width="60" height="40" fill="#0000ff" opacity=".5"/>'
    )
    drawing, found = _read(path, body)
    seen = {shape.colour: shape.area.area for shape in drawing.shapes if shape.element == "veil"}
    assert seen == {"#800080": pytest.approx(800), "#8080ff": pytest.approx(1600)}
    (told,) = [finding for finding in found if finding.code == "opacity-blended"]
    assert "veil" in told.message
    assert "#800080" in told.message
    on_black, _ = _read(path, '<rect width="9" height="9" fill="#fff" opacity=".5"/>', ground_colour="#000000")
    assert on_black.shapes[0].colour == "#808080"


def test_a_gradient_becomes_its_mean_in_linear_light(path: Path) -> None:
    """Black to white across a square: its light is the mean of the sRGB curve (IEC 61966-2-1)."""
    ramp = '<linearGradient id="g"><stop/><stop offset="1" stop-color="#fff"/></linearGradient>'
    drawing, found = _read(path, ramp + '<rect id="sky" width="50" height="50" fill="url(#g)"/>')
    grey = np.linspace(0, 1, 100_001)
    light = np.where(grey <= 0.04045, grey / 12.92, ((grey + 0.055) / 1.055) ** 2.4).mean()
    wanted = round((1.055 * light ** (1 / 2.4) - 0.055) * 255)
    assert abs(int(drawing.shapes[0].colour[1:3], 16) - wanted) <= 1
    (told,) = [finding for finding in found if finding.code == "gradient-flattened"]
    assert told.message.startswith("sky: a gradient in its fill")


def test_a_gradient_counts_only_where_it_is_painted(path: Path) -> None:
    """Only the left tenth of the ramp is painted: nearly the first colour."""
    ramp = (
        '<linearGradient id="g" gradientUnits="userSpaceOnUse" x2="100"><stop stop-color="#ff0000"/>'
        '<stop offset=".1" stop-color="#ff0000"/><stop offset="1" stop-color="#0000ff"/></linearGradient>'
    )
    drawing, _ = _read(path, ramp + '<rect width="10" height="50" fill="url(#g)"/>')
    assert drawing.shapes[0].colour == "#ff0000"


@pytest.mark.parametrize("spread", ["pad", "reflect", "repeat"])
def test_radial_gradients(path: Path, spread: str) -> None:
    """Hard rings, red within r/2 and blue beyond: shares of a disc of radius 2 r, by spread."""
    ramp = (
        f'<radialGradient id="g" gradientUnits="userSpaceOnUse" cx="50" cy="50" r="20" spreadMethod="{spread}">'
        '<stop stop-color="#f00"/><stop offset=".5" stop-color="#f00"/><stop offset=".5" stop-color="#00f"/>'
        "</radialGradient>"
    )
    drawing, _ = _read(path, ramp + '<circle cx="50" cy="50" r="40" fill="url(#g)"/>')
    red = {"pad": 1 / 16, "reflect": (1 + 16 - 9) / 16, "repeat": (1 + 9 - 4) / 16}[spread]
    shade = int(drawing.shapes[0].colour[1:3], 16) / 255
    assert ((shade + 0.055) / 1.055) ** 2.4 == pytest.approx(red, abs=0.02)


def test_a_gradient_in_bands(path: Path) -> None:
    """Four bands of a ramp across 40 mm: edges at quarters, each whole beneath the next."""
    ramp = '<linearGradient id="g"><stop/><stop offset="1" stop-color="#fff"/></linearGradient>'
    drawing, found = _read(path, ramp + '<rect width="40" height="50" fill="url(#g)"/>', gradient_bands=4)
    assert [round(shape.area.bounds[0], 1) for shape in drawing.shapes] == pytest.approx([0, 10, 20, 30], abs=0.6)
    assert [shape.area.bounds[2] for shape in drawing.shapes] == pytest.approx([40] * 4)
    light = [int(shape.colour[1:3], 16) for shape in drawing.shapes]
    assert light == sorted(light)
    assert light[0] < 45 < 210 < light[3]
    assert "gradient-banded" in _codes(found)


def test_translucent_bands_do_not_add_up(path: Path) -> None:
    stops = '<stop stop-opacity=".5"/><stop offset="1" stop-opacity=".4"/>'
    body = f'<linearGradient id="g">{stops}</linearGradient><rect width="40" height="50" fill="url(#g)"/>'
    drawing, _ = _read(path, body, gradient_bands=4, same_colour=0.0)
    assert sum(shape.area.area for shape in drawing.shapes) == pytest.approx(2000)
    assert min(int(shape.colour[1:3], 16) for shape in drawing.shapes) > 120


def test_a_radial_gradient_in_bands(path: Path) -> None:
    ramp = (
        '<radialGradient id="g" gradientUnits="userSpaceOnUse" cx="50" cy="50" r="40">'
        '<stop stop-color="red"/><stop offset="1" stop-color="blue"/></radialGradient>'
    )
    drawing, _ = _read(path, ramp + '<circle cx="50" cy="50" r="40" fill="url(#g)"/>', gradient_bands=2)
    whole, rim = drawing.shapes
    assert whole.area.area == pytest.approx(math.pi * 1600, rel=2e-3)
    assert rim.area.area == pytest.approx(math.pi * (1600 - 400), rel=3e-2)
    assert int(whole.colour[1:3], 16) > int(rim.colour[1:3], 16)


def test_a_pattern_becomes_its_mean(path: Path) -> None:
    tile = (
        '<pattern id="p" patternUnits="userSpaceOnUse" width="10" height="10">'
        '<rect width="10" height="10" fill="#fff"/>'
        '<rect width="5" height="10" fill="#000"/></pattern>'
    )
    drawing, found = _read(path, tile + '<rect width="50" height="50" fill="url(#p)"/>')
    assert drawing.shapes[0].colour == "#bcbcbc"
    assert "pattern-flattened" in _codes(found)


PAGE = '<rect width="100" height="100" fill="#fffffe"/><circle cx="50" cy="50" r="20" fill="red"/>'


def test_a_page_behind_the_design_is_left_out(path: Path) -> None:
    drawing, found = _read(path, PAGE)
    assert [shape.element for shape in drawing.shapes] == ["svg/circle[1]"]
    assert "page-background" in _codes(found)
    kept, found = _read(path, PAGE, keep_page=True)
    assert len(kept.shapes) == 2
    assert "page-background" in _codes(found)


@pytest.mark.parametrize(
    "body",
    [
        PAGE.replace("#fffffe", "#eeeeaa"),
        PAGE.replace('width="100"', 'width="90"', 1),
        '<circle r="20" fill="red"/><rect width="100" height="100" fill="#fff"/>',
        PAGE.split("<circle")[0] + '<path fill="navy" d="M0 0H33V100H0ZM67 0H100V100H67Z"/>',
    ],
)
def test_what_is_no_page(path: Path, body: str) -> None:
    drawing, found = _read(path, body)
    assert len(drawing.shapes) == 2
    assert "page-background" not in _codes(found)


def test_a_page_is_one_though_the_design_runs_off_it(path: Path) -> None:
    """A quay along the foot of the drawing, a quarter of the page's edge and a bit."""
    drawing, found = _read(path, PAGE + '<rect y="95" width="100" height="5" fill="navy"/>')
    assert len(drawing.shapes) == 2
    assert "page-background" in _codes(found)


def test_the_page_may_have_another_colour(path: Path) -> None:
    drawing, _ = _read(path, PAGE.replace("#fffffe", "#203040"), page_colour="#203040")
    assert len(drawing.shapes) == 1
    with pytest.raises(SettingsError, match="page_colour"):
        ReadSettings(page_colour="white")


NEAR = '<rect width="50" height="50" fill="#c00000"/><rect x="50" width="9" height="9" fill="#c20001"/>'


def test_colours_that_look_alike_are_one_thread(path: Path) -> None:
    drawing, found = _read(path, NEAR)
    assert [shape.colour for shape in drawing.shapes] == ["#c00000", "#c00000"]
    (told,) = [finding for finding in found if finding.code == "colours-merged"]
    assert "#c20001 into #c00000" in told.message
    apart, found = _read(path, NEAR, same_colour=0.0)
    assert len({shape.colour for shape in apart.shapes}) == 2
    assert "colours-merged" not in _codes(found)


def test_the_number_of_threads_can_be_limited(path: Path) -> None:
    body = "".join(f'<rect x="{9 * i}" width="9" height="9" fill="hsl({40 * i},90%,50%)"/>' for i in range(9))
    drawing, _ = _read(path, body, most_colours=4)
    assert len({shape.colour for shape in drawing.shapes}) == 4


def test_specks_and_duplicates_are_cleaned_away(path: Path) -> None:
    twice = '<rect width="50" height="50"/>'
    body = twice.replace("50", ".05") + twice + twice.replace("/>", ' fill="red"/>')
    drawing, found = _read(path, body)
    assert [shape.colour for shape in drawing.shapes] == ["#ff0000"]
    assert "specks-left-out" in _codes(found)


def test_pieces_of_a_veil_in_one_thread_are_one_shape(path: Path) -> None:
    """The veil crosses two reds that look alike: its two pieces come together again."""
    body = NEAR + '<rect id="veil" y="2" width="70" height="4" fill="#0000ff" opacity=".5"/>'
    drawing, _ = _read(path, body)
    seen = [round(shape.area.area) for shape in drawing.shapes if shape.element == "veil"]
    assert sorted(seen) == [44, 236]


def test_long_lists_of_findings_are_cut_short(path: Path) -> None:
    body = '<rect width="50" height="50"/>' + "".join(
        f"<text font-family='Nosuch'>Buoy {i}</text>" for i in range(40)
    )
    _, found = _read(path, body)
    texts = [finding for finding in found if finding.code == "text-left-out"]
    assert len(texts) == 13
    assert texts[-1].message.startswith("28 more")


def test_reading_twice_gives_the_same(path: Path) -> None:
    body = NEAR + '<path d="M10 10C90 10 10 90 90 90" stroke="blue" fill-opacity=".3"/>'
    one, two = _read(path, body), _read(path, body)
    assert one[1] == two[1]
    for first, second in zip(one[0].shapes, two[0].shapes, strict=True):
        assert shapely.to_wkb(first.area) == shapely.to_wkb(second.area)
        assert (first.element, first.colour) == (second.element, second.colour)


def test_areas_are_valid_and_opaque(path: Path) -> None:
    dice = np.random.default_rng(4)
    body = "".join(
        f'<path d="M{" ".join(str(v) for v in dice.integers(0, 99, 12))}z" fill-rule="evenodd" stroke="black"'
        f' fill="hsl({i * 37},80%,50%)" opacity="{0.4 + i % 3 * 0.3}"/>'
        for i in range(12)
    )
    drawing, _ = _read(path, body)
    assert len(drawing.shapes) > 40
    for shape in drawing.shapes:
        assert isinstance(shape.area, shapely.MultiPolygon)
        assert shape.area.is_valid
        assert not shape.area.is_empty
        assert len(shape.colour) == 7


def test_a_drawing_is_fitted_into_a_box(path: Path) -> None:
    body, sheet = '<rect width="200" height="100"/>', 'width="200" height="100"'
    drawing, _ = _read(path, body, sheet, fit_width_mm=100.0, fit_height_mm=30.0)
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((60, 30))
    drawing, _ = _read(path, body, sheet, fit_width_mm=100.0, width_mm=40.0)
    assert drawing.width_mm == pytest.approx(40)


@pytest.mark.parametrize(
    ("shape", "mm2"),
    [
        ("circle(10px at 30px 20px)", math.pi * 100),
        ("circle()", math.pi * 400),
        ("ellipse(50% 25% at center)", math.pi * 30 * 10),
        ("inset(10px 5px)", 50 * 20),
        ("inset(0 round 10px)", 60 * 40 - (4 - math.pi) * 100),
        ("polygon(0 0, 100% 0, 0 100%)", 1200),
        (
            "polygon(evenodd, 0 0, 60px 0, 60px 40px, 0 40px, 0 0, 10px 10px, 50px 10px, 50px 30px, 10px 30px, "
            "10px 10px)",
            1600,
        ),
        ("path('M0 0H30V20H0z')", 600),
    ],
)
def test_clips_by_css_shapes(path: Path, shape: str, mm2: float) -> None:
    """W3C CSS Shapes 1, chapter 3: of the element's own box, here 60 by 40."""
    drawing, _ = _read(path, f'<rect x="10" y="20" width="60" height="40" style="clip-path:{shape}"/>')
    (one,) = drawing.shapes
    assert one.area.area == pytest.approx(mm2, rel=3e-3)


@pytest.mark.parametrize(
    ("sheet", "value", "colour"),
    [
        ("svg{--sea:#102030}", "var(--sea)", "#102030"),
        ("", "var(--sea, #405060)", "#405060"),
        ("svg{--a:var(--b);--b:#708090}", "var(--a)", "#708090"),
        ("svg{--Sea:#102030;--sea:#ff0000}", "var(--Sea)", "#102030"),
        ("svg{--a:var(--b);--b:var(--a)}", "var(--a)", "#000000"),
    ],
)
def test_variables(path: Path, sheet: str, value: str, colour: str) -> None:
    """W3C CSS Variables 1, chapters 2 and 3."""
    drawing, _ = _read(path, f'<style>{sheet}</style><rect width="50" height="50" style="fill:{value}"/>')
    assert drawing.shapes[0].colour == colour


def test_text_needs_a_font_that_is_here(path: Path, tmp_path: Path) -> None:
    body = '<text id="name" y="20" font-family="DejaVu Sans">Tern</text><rect y="30" width="9" height="9"/>'
    drawing, found = _read(path, body, machine_fonts=False)
    assert [shape.element for shape in drawing.shapes] == ["svg/rect[1]"]
    (told,) = [finding for finding in found if finding.code == "text-left-out"]
    assert "Tern" in told.message
    assert "DejaVu Sans" in told.message
    (tmp_path / "broken.ttf").write_bytes(b"no font at all")
    _, found = _read(path, body, machine_fonts=False, font_folder=str(tmp_path))
    assert "text-left-out" in _codes(found)


@pytest.mark.parametrize("profile", ["icc-color(inks, 0.11, 0.48)", "icc-color(#inks 0.2)"])
@pytest.mark.parametrize("colour", ["#cd853f", "peru", "rgb(205, 133, 63)"])
def test_of_a_colour_with_a_profile_the_plain_one_counts(path: Path, colour: str, profile: str) -> None:
    """SVG 1.1, 11.2: the sRGB colour stands before that of the profile and is used where the latter cannot be."""
    drawing, _ = _read(path, f'<rect width="20" height="20" fill="{colour} {profile}"/>')
    assert [shape.colour for shape in drawing.shapes] == ["#cd853f"]
