"""Third-party artwork for tests: installed by package, pinned, never committed.

* npm ``@twemoji/svg`` 15.0.0: graphics CC-BY 4.0.
* npm ``flag-icons`` 7.5.0: MIT.
* npm ``@iconify-json/streamline-ultimate-color`` 1.2.2: CC BY 4.0.
* npm ``@fontsource/open-sans`` 5.3.0: Open Sans, OFL-1.1; the words below are drawn with it.
* Debian ``openclipart-svg``: public domain (CC0).
"""

from __future__ import annotations

import json
import random
import shutil
import subprocess
import tarfile
from pathlib import Path

from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.ttLib import TTFont

KEPT = Path(__file__).parent / ".corpora"
NPM = {"twemoji": "@twemoji/svg@15.0.0", "flags": "flag-icons@7.5.0", "open-sans": "@fontsource/open-sans@5.3.0"}
ICONS = {"streamline": "streamline-ultimate-color@1.2.2"}
"""Sets in one file of JSON, an icon an entry."""
DEBIAN = {"openclipart": Path("/usr/share/openclipart/svg")}
SEED = 20261125
SLOW, SLOW_AT = ("hummer_07", "gnome-mime-text-html"), 12
"""Drawings that take as long as all others of their sample together: they come last of the recorded ones, so that a
quick run does without them."""

WORDS = (
    ("SALTMERE QUAY", "700-normal", 12.0), ("Regatta 1874", "400-normal", 9.0), ("tern & gull", "600-normal", 14.0),
    ("NORTH PIER", "400-normal", 6.0), ("HARBOUR", "800-normal", 20.0), ("Lighthouse", "300-normal", 16.0),
    ("mooring", "700-italic", 8.0), ("Kittiwake", "400-italic", 12.0), ("sailmaker", "300-normal", 7.0),
    ("ROWING CLUB", "600-normal", 10.0), ("No. 27", "700-normal", 25.0), ("boats", "800-normal", 40.0),
)  # fmt: skip
"""A word, its cut of Open Sans, and its cap height in mm."""


def corpus(name: str) -> list[Path]:
    """All SVG files of a set, in a fixed order; empty if it cannot be had here."""
    if name in DEBIAN:
        return sorted(DEBIAN[name].rglob("*.svg")) if DEBIAN[name].exists() else []
    if name == "words":
        return _words()
    if name in ICONS:
        return _icons(KEPT / name, ICONS[name])
    folder = KEPT / name
    if not folder.exists() and not _unpacked(NPM[name], folder):
        return []
    within = folder / "package" / "flags" / "4x3" if name == "flags" else folder
    return sorted(within.rglob("*.svg"))


def seeded(name: str, count: int) -> list[Path]:
    """The first ``count`` of a set in a seeded order, so that a smaller sample is part of every larger one.

    Words come in the order of their list.
    """
    files = corpus(name)
    if name != "words":
        random.Random(SEED).shuffle(files)
    slow = [path for path in files[:SLOW_AT] if path.stem in SLOW]
    others = [path for path in files if path not in slow]
    place = SLOW_AT - len(slow)
    return [*others[:place], *slow, *others[place:]][:count]


def _unpacked(package: str, folder: Path) -> bool:
    if shutil.which("npm") is None:
        return False
    KEPT.mkdir(exist_ok=True)
    packed = subprocess.run(
        ["npm", "pack", package, "--silent"], cwd=KEPT, capture_output=True, text=True, timeout=300, check=False
    )
    if packed.returncode != 0:
        return False
    archive = KEPT / packed.stdout.strip().splitlines()[-1]
    with tarfile.open(archive) as tar:
        tar.extractall(folder, filter="data")
    archive.unlink()
    return True


def icon_drawings(package: str) -> dict[str, str]:
    """The drawings of npm ``@iconify-json/PACKAGE`` by name, in order; empty if it cannot be had here.

    Each is kept as the body of an svg element, with its size.
    """
    folder = KEPT / f"iconify-json-{package}"
    if not folder.exists() and not _unpacked(f"@iconify-json/{package}", folder):
        return {}
    every = json.loads((folder / "package" / "icons.json").read_text())
    found = {}
    for icon, given in sorted(every["icons"].items()):
        left, top, width, height = (
            given.get(key, every.get(key, usual))
            for key, usual in (("left", 0), ("top", 0), ("width", 16), ("height", 16))
        )
        head = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
        box = f'width="{width}" height="{height}" viewBox="{left} {top} {width} {height}"'
        found[icon] = f"<svg {head} {box}>{given['body']}</svg>"
    return found


def _icons(folder: Path, package: str) -> list[Path]:
    """The drawings of an icon set as files."""
    drawn = icon_drawings(package)
    folder.mkdir(parents=True, exist_ok=True)
    for icon, svg in drawn.items():
        path = folder / f"{icon}.svg"
        if not path.exists():
            path.write_text(svg)
    return [folder / f"{icon}.svg" for icon in drawn]


def _words() -> list[Path]:
    folder = KEPT / "open-sans"
    if not folder.exists() and not _unpacked(NPM["open-sans"], folder):
        return []
    found = []
    (KEPT / "words").mkdir(exist_ok=True)
    for text, cut, cap_mm in WORDS:
        path = KEPT / "words" / f"{text.lower().replace(' ', '-').replace('&', 'and').replace('.', '')}.svg"
        path.write_text(_drawn(folder / "package" / "files" / f"open-sans-latin-{cut}.woff", text, cap_mm))
        found.append(path)
    return found


def _drawn(font_file: Path, text: str, cap_mm: float) -> str:
    """One path a letter, at the size asked for, in plain advance widths."""
    font = TTFont(font_file)
    glyphs, names = font.getGlyphSet(), font.getBestCmap()
    scale = cap_mm / font["OS/2"].sCapHeight
    at, drawn = 0.0, []
    for letter in text:
        pen = SVGPathPen(glyphs)
        glyphs[names[ord(letter)]].draw(pen)
        place = f"translate({at:.2f} 0)"
        drawn += [f'<path transform="{place}" d="{pen.getCommands()}"/>'] if pen.getCommands() else []
        at += glyphs[names[ord(letter)]].width
    wide, high = at * scale + 4.0, cap_mm * 1.9
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.2f}mm" height="{high:.2f}mm" '
        f'viewBox="0 0 {wide:.2f} {high:.2f}"><g fill="#1c3d5a" transform="translate(2 {cap_mm * 1.4:.2f}) '
        f'scale({scale:.6f} {-scale:.6f})">{"".join(drawn)}</g></svg>\n'
    )
