"""Files that cannot be read, or not wholly: one clear sentence each, and the rest of the drawing stays."""

# ruff: noqa: E501  (a table of documents, one a line)

from __future__ import annotations

import gzip
import random
from pathlib import Path

import pytest

from pipeline.errors import ArtworkError
from pipeline.model import Drawing, Finding
from pipeline.read.reading import read_drawing
from pipeline.read.settings import ReadSettings

HEAD = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="100" height="100">'
)
GOOD = '<rect id="good" width="50" height="50"/>'
BILLION = "".join(f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefghi", "bcdefghij", strict=True))
COPIES = "".join(f'<g id="a{i}">' + f'<use href="#a{i - 1}"/>' * 10 + "</g>" for i in range(1, 9))


def _read(path: Path, data: str | bytes, settings: ReadSettings | None = None) -> tuple[Drawing, list[Finding]]:
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    found: list[Finding] = []
    return read_drawing(path, settings or ReadSettings(), found.append), found


REFUSED: dict[str, tuple[str | bytes, str]] = {
    "empty": ("", "empty"),
    "blank": (" \n\t ", "empty"),
    "not xml": ("a gull on a pole", "not well-formed XML"),
    "a picture": (b"\x89PNG\r\n\x1a\n\x00\x00", "a PNG picture whatever its name says"),
    "a document": (b"%PDF-1.4\n%", "a PDF document"),
    "wrong letters": ((HEAD + "<desc>M\xf6we</desc></svg>").encode("latin-1"), "save it as UTF-8"),
    "cut short": (HEAD + "<g><rect", "not well-formed XML"),
    "not svg": ("<html><body/></html>", "outermost element is <html>"),
    "entity bomb": (f'<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa">{BILLION}]>{HEAD}<desc>&j;</desc>{GOOD}</svg>', "bomb"),
    "entity loop": (f'<!DOCTYPE svg [<!ENTITY a "&b;"><!ENTITY b "&a;">]>{HEAD}<desc>&a;</desc></svg>', "bomb"),
    "outside entity": (f'<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/hosts">]>{HEAD}<desc>&a;</desc></svg>', "outside"),
    "nested groups": (HEAD + "<g>" * 5000 + GOOD + "</g>" * 5000 + "</svg>", "nested more than 256 deep"),
    "copies of copies": (f'{HEAD}<rect id="a0" width="9" height="9"/>{COPIES}</svg>', "copies"),
    "no width": (HEAD.replace('width="100"', 'width="0"') + GOOD + "</svg>", "zero or negative"),
    "negative height": (HEAD.replace('height="100"', 'height="-4"') + GOOD + "</svg>", "zero or negative"),
    "width of nonsense": (HEAD.replace('width="100"', 'width="NaN"') + GOOD + "</svg>", "width cannot be used"),
    "huge width": (HEAD.replace('width="100"', 'width="1e300"') + GOOD + "</svg>", "out of range"),
    "empty viewBox": (HEAD.replace(">", ' viewBox="0 0 0 9">') + GOOD + "</svg>", "zero or negative"),
    "nothing in it": (HEAD + "</svg>", "paints nothing"),
    "nothing painted": (HEAD + '<rect width="9" height="9" fill="none"/></svg>', "paints nothing"),
    "only text": (HEAD + "<text font-family='Nosuch Fathom'>Tern Point Rowing</text></svg>", "Tern Point Rowing"),
    "off the page": (HEAD + '<rect x="200" width="9" height="9"/></svg>', "outside its page"),
    "long token": (HEAD + f'<rect data-x="{"x" * 11_000_000}"/></svg>', "larger than 10 MB"),
    "damaged svgz": (gzip.compress((HEAD + GOOD + "</svg>").encode())[:-12], "ends too early"),
    "broken svgz": (b"\x1f\x8b" + b"nonsense" * 4, "damaged"),
    "svgz bomb": (gzip.compress(b" " * 40_000_000), "more than 32 MB"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_refused_with_one_sentence(name: str, tmp_path: Path) -> None:
    data, words = REFUSED[name]
    with pytest.raises(ArtworkError, match=words) as caught:
        _read(tmp_path / "bad.svg", data, ReadSettings(most_copies=5000))
    assert str(caught.value).count("\n") == 0
    assert len(str(caught.value)) < 300


# name: what stands before the good rectangle, the finding's code, and words of its message
LIVED_WITH = {
    "nan": ('<rect id="bad" x="NaN" width="9" height="9"/>', "element-broken", "x: “NaN” is no length"),
    "1e300": ('<rect id="bad" x="1e300" width="9" height="9"/>', "element-broken", "out of range"),
    "infinite path": ('<path id="bad" d="M1e999 0L5 5L1 9z"/>', "element-broken", "out of range"),
    "negative width": ('<rect id="bad" width="-9" height="9"/>', "element-broken", "width is negative"),
    "huge scale": ('<g id="bad" transform="scale(1e300)"><rect width="9" height="9"/></g>', "element-broken", "range"),
    "malformed transform": ('<path id="bad" transform="rotate(abc)" d=""/>', "element-broken", "“abc” is no number"),
    "short matrix": ('<path id="bad" transform="matrix(1 2 3)" d=""/>', "element-broken", "is no transform"),
    "endless transform": (f'<path id="bad" transform="{"rotate(" * 20000}" d=""/>', "element-broken", "too long"),
    "broken path": ('<path id="bad" d="M70 70 L 80 80 L 90 70 gull"/>', "path-broken", "“gull”"),
    "dangling command": ('<path id="bad" d="M0 0 9 9 0 9 h"/>', "path-broken", "“h”"),
    "path without start": ('<path id="bad" d="L9 9 0 9"/>', "path-broken", "“L9 9 0 9”"),
    "use of itself": ('<use id="bad" href="#bad"/>', "reference-cycle", "refers back to itself"),
    "use of its parent": ('<g id="bad"><use href="#bad"/></g>', "reference-cycle", "refers back to itself"),
    "use in a circle": ('<g id="bad"><use href="#b"/></g><g id="b"><use href="#bad"/></g>', "reference-cycle", "back"),
    "use of nothing": ('<use id="bad" href="#gone"/>', "reference-missing", "“gone”"),
    "use of a file": ('<use id="bad" href="other.svg#x"/>', "reference-missing", "never fetched"),
    "clip in a circle": ('<clipPath id="c"><path clip-path="url(#c)" d="M0 0H9V9z"/></clipPath><path id="bad" d="M0 0H9V9z" clip-path="url(#c)"/>', "reference-cycle", "clip-path"),
    "mask in a circle": ('<mask id="c"><path mask="url(#c)" d="M0 0H9V9z"/></mask><path id="bad" d="M0 0H9V9z" mask="url(#c)"/>', "reference-cycle", "mask"),
    "pattern in a circle": ('<pattern id="p" width="9" height="9"><path fill="url(#p)" d="M0 0H9V9z"/></pattern><path id="bad" d="M0 0H9V9z" fill="url(#p)"/>', "reference-cycle", "fill"),
    "missing paint": ('<path id="bad" d="M0 0H9V9z" fill="url(#gone)"/>', "reference-missing", "“gone”"),
    "unknown colour": ('<path id="bad" d="M0 0H9V9z" fill="blurple"/>', "unknown-colour", "“blurple”"),
    "bad opacity": ('<path id="bad" d="M0 0H9V9z" opacity="inf"/>', "value-ignored", "opacity"),
    "bad stroke width": ('<path id="bad" d="M0 0H9V9z" stroke="red" stroke-width="-3"/>', "value-ignored", "negative"),
    "too fine dashes": ('<path id="bad" d="M0 0H9" stroke="red" stroke-dasharray="1e-7"/>', "value-ignored", "fine"),
    "text": ('<text id="bad" font-family="Nosuch Fathom">Kelp &amp; Crab</text>', "text-left-out", "“Kelp & Crab” in Nosuch Fathom"),
    "image": ('<image id="bad" width="48" height="24" href="x.png"/>', "image-left-out", "81 mm²"),
    "foreign content": ('<foreignObject id="bad"><p>moo</p></foreignObject>', "element-left-out", "foreign content"),
    "filter": ('<filter id="f"/><path id="bad" d="M0 0H9V9z" filter="url(#f)"/>', "filter-left-out", "without"),
    "blend mode": ('<path id="bad" d="M0 0H9V9z" style="mix-blend-mode:multiply"/>', "blend-mode-left-out", "multiply"),
    "unknown element": ('<gull id="bad"/>', "element-left-out", "<gull>"),
    "clip by words": ('<path id="bad" d="M0 0H9V9z" clip-path="wave(9px)"/>', "clip-left-out", "wave(9px)"),
    "css variable": ('<path id="bad" d="M0 0H9V9z" style="fill:var(--sea)"/>', "style-left-out", "“var(--sea)”"),
}  # fmt: skip


@pytest.mark.parametrize("name", LIVED_WITH)
def test_one_bad_element_never_loses_the_rest(name: str, tmp_path: Path) -> None:
    body, code, words = LIVED_WITH[name]
    drawing, found = _read(tmp_path / "bad.svg", f"{HEAD}{body}{GOOD}</svg>")
    assert "good" in {shape.element for shape in drawing.shapes}
    told = [finding for finding in found if finding.code == code]
    assert told
    assert words in told[0].message
    assert "bad" in told[0].message
    assert told[0].severity == ("error" if "broken" in code or "cycle" in code else "warning")


def test_unreadable_files(tmp_path: Path) -> None:
    with pytest.raises(ArtworkError, match="cannot be read"):
        read_drawing(tmp_path / "gone.svg", ReadSettings(), lambda _: None)
    with pytest.raises(ArtworkError, match="cannot be read"):
        read_drawing(tmp_path, ReadSettings(), lambda _: None)


def test_honest_entities_are_read(tmp_path: Path) -> None:
    head = f'<!DOCTYPE svg [<!ENTITY c "fill:#ff0000">]>{HEAD}'
    drawing, _ = _read(tmp_path / "a.svg", f'{head}<rect style="&c;" width="9" height="9"/></svg>')
    assert drawing.shapes[0].colour == "#ff0000"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "iso-8859-1"])
def test_encodings(encoding: str, tmp_path: Path) -> None:
    text = f'<?xml version="1.0" encoding="{encoding}"?>{HEAD}<g aria-label="Möwe">{GOOD}</g></svg>'
    drawing, _ = _read(tmp_path / "a.svg", text.encode(encoding))
    assert drawing.shapes[0].label == "Möwe"


def test_packed_files_read_like_plain_ones(tmp_path: Path) -> None:
    text = f"{HEAD}{GOOD}</svg>"
    plain, _ = _read(tmp_path / "a.svg", text)
    packed, _ = _read(tmp_path / "a.svgz", gzip.compress(text.encode()))
    assert packed.shapes[0].area.equals(plain.shapes[0].area)


def test_long_nonsense_takes_no_time(tmp_path: Path) -> None:
    """Quadratic patterns of other readers: blanks in a path, letters in a style sheet, brackets in a colour."""
    body = f'<path d="M0 0{" " * 3_000_000}L9 9 0 9"/><style>{"a" * 50_000}</style><rect fill="{"(" * 50_000}"/>'
    drawing, _ = _read(tmp_path / "a.svg", f"{HEAD}{body}{GOOD}</svg>")
    assert len(drawing.shapes) == 2


def test_involved_selectors_take_no_time(tmp_path: Path) -> None:
    """Thirty ancestors in every combination of 200 would never end; three of a few are nothing."""
    rule = "<style>.no {}rect{{fill:red}} g g rect{{stroke:#00f}}</style>"
    body = rule.format("g " * 30) + "<g>" * 200 + GOOD + "</g>" * 200
    drawing, found = _read(tmp_path / "a.svg", f"{HEAD}{body}</svg>")
    assert [shape.colour for shape in drawing.shapes] == ["#000000", "#0000ff"]
    assert [finding.code for finding in found] == ["style-left-out"]


def test_mutated_drawings_raise_nothing_else(tmp_path: Path) -> None:
    """Seeded damage to a drawing that uses every feature: only ``ArtworkError`` ever comes out."""
    folder = Path(__file__).parents[1] / "svg_features"
    paths = [path for path in sorted(folder.rglob("*.svg")) if path.parent.name != "text"]
    files = [path.read_text(encoding="utf-8") for path in paths]
    rows = [text.partition(">")[2].rpartition("</svg>")[0] for text in files]
    dice = random.Random(8)
    read = 0
    for _ in range(300):
        text = list("".join(dice.sample(rows, 3)))
        for _ in range(dice.randint(1, 6)):
            at = dice.choice([i for i, letter in enumerate(text) if letter in "0123456789.#() "])
            text[at] = dice.choice(["", "9", "-", "e", "1e9", ".", "(", ")", "%", "NaN", "#", " ", ";", "0", "z"])
        try:
            drawing, _ = _read(tmp_path / "m.svg", f"{HEAD}{''.join(text)}</svg>")
        except ArtworkError:
            continue
        read += 1
        assert all(shape.area.is_valid and not shape.area.is_empty for shape in drawing.shapes)
    assert read > 100
