"""Seeded words of twenty fonts, sewn one by one: ``python tests/bench/words.py [COUNT [FIRST]]``.

Every word is two to nine letters of the font's own script, its outlines drawn side by side at a cap height (or the
height of the font's tallest common letter) of 4 to 60 mm, mostly small. It goes through ``flow`` from regions to
needle points under a limit of CPU time. Prints what failed or took over ``SLOW_S``, how CPU seconds are spread and
the slowest; ``--word NUMBER`` writes one word as an SVG file. Judges stitching, not reading: outlines come from
fontTools.

Fonts are Debian packages, unpacked into ``tests/.corpora`` and never committed; licences as each package's
``copyright`` says (OFL 1.1, Apache-2.0 or, some, GPL with font exception): they only serve as input here.
"""

from __future__ import annotations

import argparse
import random
import signal
import subprocess
import sys
import time
import traceback
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

sys.path.insert(0, str(Path(__file__).parents[1]))

from corpora import KEPT

from pipeline.flow import sew
from pipeline.model import Drawing
from pipeline.read.reading import read_drawing
from pipeline.regions.stack import stack
from pipeline.settings import Settings

SLOW_S = 10.0
"""CPU seconds that no word may take; given up at three times that."""
HEIGHTS_MM = 4.0, 60.0
LETTERS = 2, 9
SEED = 20261128
LATIN = "AZ az 09"
FONTS = {
    "dejavu-core": ("DejaVuSans.ttf", "АЯ ая ΑΩ"),
    "lato": ("Lato-Hairline.ttf", LATIN),
    "quicksand": ("Quicksand-Light.ttf", LATIN),
    "roboto-slab": ("RobotoSlab-Thin.otf", LATIN),
    "open-sans": ("OpenSans-Light.ttf", LATIN),
    "linuxlibertine": ("LinLibertine_RI.otf", LATIN),
    "ebgaramond": ("EBGaramond12-Regular.otf", LATIN),
    "dancingscript": ("DancingScript-Regular.otf", LATIN),
    "sil-gentium": ("Gentium-R.ttf", "ÀÖ àö ăž"),
    "sil-padauk": ("Padauk-Regular.ttf", "ကအ"),
    "sil-scheherazade": ("Scheherazade-Regular.ttf", "ءغ في"),
    "hosny-amiri": ("Amiri-Bold.ttf", "ءغ في"),
    "sil-abyssinica": ("AbyssinicaSIL-Regular.ttf", "ሀፖ"),
    "beng-extra": ("MitraMono.ttf", "অহ"),
    "deva-extra": ("kalimati.ttf", "अह"),
    "gujr-extra": ("Rekha.ttf", "અહ"),
    "lohit-taml": ("Lohit-Tamil.ttf", "அஹ"),
    "khmeros": ("KhmerOSfasthand.ttf", "កឳ"),
    "tlwg-garuda-otf": ("Garuda.otf", "กฮ"),
    "wqy-microhei": ("wqy-microhei.ttc", "一龠"),
}


def main() -> None:
    """Sew the words and print what they cost."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("count", type=int, nargs="?", default=150)
    parser.add_argument("first", type=int, nargs="?", default=0)
    parser.add_argument("--word", type=int, help="write this word as an SVG file and stop")
    given = parser.parse_args()
    if given.word is not None:
        made = word(given.word)
        Path(f"word-{given.word}.svg").write_text(made[1], encoding="utf-8")
        return
    signal.signal(signal.SIGPROF, _late)
    spent, failed = [], 0
    for number in range(given.first, given.first + given.count):
        title, svg = word(number)
        seconds, trouble = sewn(svg)
        spent.append((seconds, title))
        if trouble or seconds > SLOW_S:
            failed += 1
            print(f"{title}: {seconds:.1f} s  {trouble}", flush=True)
    _told(spent, failed)


def _told(spent: list[tuple[float, str]], failed: int) -> None:
    seconds = np.array([one for one, _ in spent])
    shares = np.percentile(seconds, [50, 90, 99, 100])
    print(f"{len(spent)} words, {failed} failed or over {SLOW_S:g} s CPU")
    print(
        "CPU s: median {:.2f}, 90 % {:.2f}, 99 % {:.2f}, worst {:.2f}".format(*shares), f"sum {seconds.sum():.0f}"
    )
    for one, title in sorted(spent, reverse=True)[:10]:
        print(f"  {one:6.2f} s  {title}")


def sewn(svg: str) -> tuple[float, str]:
    """CPU seconds from regions to needle points, and what went wrong."""
    path = KEPT / "word.svg"
    path.write_text(svg, encoding="utf-8")
    settings = Settings()
    drawing: Drawing = read_drawing(path, settings.read, lambda finding: None, None)
    begun = time.process_time()
    signal.setitimer(signal.ITIMER_PROF, 3 * SLOW_S)
    try:
        _, parts, sewing = sew(stack(drawing, settings.regions, _unheard), settings, _unheard)
        trouble = "" if parts and sewing.passes else "nothing sewn"
    except Exception as error:  # whatever it is, it is told and the next word tried
        place = traceback.extract_tb(error.__traceback__)[-1]
        trouble = f"{type(error).__name__}: {str(error)[:120]} ({Path(place.filename).name}:{place.lineno})"
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    return time.process_time() - begun, trouble


def _unheard(finding: object) -> None:
    """Findings are not judged here."""


def _late(number: int, frame: object) -> None:
    raise TimeoutError("given up")


def word(number: int) -> tuple[str, str]:
    """A word's title and its SVG."""
    rng = random.Random(f"{SEED} {number}")
    package = rng.choice(sorted(FONTS))
    names, cap = _letters(package)
    least, most = HEIGHTS_MM
    size = least * (most / least) ** (rng.random() ** 1.5)
    chosen = [rng.choice(names) for _ in range(rng.randint(*LETTERS))]
    text = "".join(letter for letter, _ in chosen)
    return f"{number} {package} {text} {size:.1f} mm", _svg(package, [glyph for _, glyph in chosen], size / cap)


def _svg(package: str, glyphs: list[str], scale: float) -> str:
    shapes = _font(package).getGlyphSet()
    at, paths, boxes = 0.0, [], []
    for glyph in glyphs:
        shift = (scale, 0.0, 0.0, -scale, at, 0.0)
        pen, box = SVGPathPen(shapes, lambda v: f"{v:.4f}"), BoundsPen(shapes)
        shapes[glyph].draw(TransformPen(pen, shift))
        shapes[glyph].draw(TransformPen(box, shift))
        paths.append(pen.getCommands())
        boxes.append(box.bounds)
        at += scale * float(shapes[glyph].width)
    x0, y0, x1, y1 = shapely.total_bounds(shapely.box(*np.array(boxes, dtype=float).T))
    x0, y0, wide, high = x0 - 2.0, y0 - 2.0, x1 - x0 + 4.0, y1 - y0 + 4.0
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.4f}mm" height="{high:.4f}mm"'
        f' viewBox="{x0:.4f} {y0:.4f} {wide:.4f} {high:.4f}"><path fill="#1d4e89" d="{" ".join(paths)}"/></svg>'
    )


@cache
def _letters(package: str) -> tuple[list[tuple[str, str]], float]:
    """The letters of the script with an outline, with their glyphs; and the height of a capital, in font units."""
    font = _font(package)
    shapes, names = font.getGlyphSet(), font.getBestCmap()
    found: list[tuple[str, str]] = []
    heights = []
    for code in _codes(FONTS[package][1]):
        pen = BoundsPen(shapes)
        if chr(code).isalnum() and code in names:
            shapes[names[code]].draw(pen)
            if pen.bounds and pen.bounds[2] > pen.bounds[0]:
                found.append((chr(code), names[code]))
                heights.append(pen.bounds[3])
    return found, float(np.percentile(heights, 90))


def _codes(spans: str) -> Iterator[int]:
    for first, last in spans.split():
        yield from range(ord(first), ord(last) + 1)


@cache
def _font(package: str) -> Any:
    folder = KEPT / "fonts" / package
    if not folder.exists():
        folder.mkdir(parents=True)
        name = f"fonts-{package}"
        subprocess.run(["apt-get", "download", "-q", name], cwd=folder, check=True, stdout=subprocess.DEVNULL)
        archive = next(folder.glob("*.deb"))
        subprocess.run(["dpkg-deb", "-x", str(archive), str(folder)], check=True)
        archive.unlink()
    return TTFont(next(folder.rglob(FONTS[package][0])), fontNumber=0)


if __name__ == "__main__":
    main()
