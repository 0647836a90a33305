"""The CSS cascade: presentation attributes, style sheets, ``style``, importance, inheritance (W3C CSS Cascade 4).

Values stay text here; whoever needs one parses it. What CSS calls invalid counts as not written, and colours
of that kind are reported.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import cssselect2
import tinycss2
from lxml import etree

from pipeline.read import colour
from pipeline.read.declared import declarations, inline
from pipeline.read.document import local
from pipeline.read.notes import Notes
from pipeline.read.sizes import Measure

# Longer style sheets than this (letters) are left out: the parser's time would be the sender's to choose.
MOST_SHEET = 500_000
# Selectors may look for ancestors in every combination: rules whose worst case is more comparisons than this
# (about 3 µs each) are left out, with a finding.
MOST_COMPARED = 5_000_000

INHERITED: dict[str, str] = {
    "fill": "#000000",
    "fill-rule": "nonzero",
    "fill-opacity": "1",
    "stroke": "none",
    "stroke-width": "1",
    "stroke-opacity": "1",
    "stroke-linecap": "butt",
    "stroke-linejoin": "miter",
    "stroke-miterlimit": "4",
    "stroke-dasharray": "none",
    "stroke-dashoffset": "0",
    "paint-order": "normal",
    "clip-rule": "nonzero",
    "color": "#000000",
    "visibility": "visible",
    "marker-start": "none",
    "marker-mid": "none",
    "marker-end": "none",
    "font-family": "",
    "font-weight": "normal",
    "font-style": "normal",
    "text-anchor": "start",
    "letter-spacing": "normal",
    "word-spacing": "normal",
    "writing-mode": "horizontal-tb",
    "dominant-baseline": "auto",
    "image-rendering": "auto",
    "white-space": "normal",
}
OWN: dict[str, str] = {
    "display": "inline",
    "opacity": "1",
    "clip-path": "none",
    "mask": "none",
    "mask-type": "luminance",
    "filter": "none",
    "mix-blend-mode": "normal",
    "overflow": "",
    "stop-color": "#000000",
    "stop-opacity": "1",
    "vector-effect": "none",
    "transform": "",
    "transform-origin": "",
    "font-size": "",
    "text-decoration": "none",
}
# Properties that are also attributes of the same name ("transform" is read apart: its grammar differs).
_ATTRIBUTES = (set(INHERITED) | set(OWN)) - {"transform"}
_COLOURS = {"fill", "stroke", "color", "stop-color"}
_KEYWORDS = {
    "fill-rule": {"nonzero", "evenodd"},
    "clip-rule": {"nonzero", "evenodd"},
    "stroke-linecap": {"butt", "round", "square"},
    "stroke-linejoin": {"miter", "round", "bevel", "miter-clip", "arcs"},
    "visibility": {"visible", "hidden", "collapse"},
    "mask-type": {"luminance", "alpha"},
}
_FONT_SIZES = {
    "xx-small": 9.0,
    "x-small": 10.0,
    "small": 13.0,
    "medium": 16.0,
    "large": 18.0,
    "x-large": 24.0,
    "xx-large": 32.0,
}
_PAINT = re.compile(r"url\(\s*[\"']?#?([^\"')]*?)[\"']?\s*\)\s*(.*)", re.DOTALL)
_VARIABLE = re.compile(r"var\(\s*(--[\w-]+)\s*(?:,([^()]*(?:\([^()]*\))?[^()]*))?\)")
# Variables put in one value, those within others included; more are a circle.
MOST_VARIABLES = 32


@dataclass(frozen=True, eq=False)
class Style:
    """The computed properties of one element, as text; ``font`` is its font size in user units."""

    inherited: dict[str, str]
    own: dict[str, str]
    font: float = 16.0

    def get(self, name: str) -> str:
        """The value of a property that this project knows."""
        if name in INHERITED:
            return self.inherited.get(name) or INHERITED[name]
        return self.own.get(name) or OWN[name]


ROOT = Style({}, {})


class Cascade:
    """What is declared for every element of one document."""

    def __init__(self, root: etree._Element, notes: Notes) -> None:
        self._notes = notes
        self._sheets: dict[etree._Element, list[tuple[dict[str, str], dict[str, str]]]] = {}
        matcher = cssselect2.Matcher()
        self._extent = (0, 0, 0)
        rules = 0
        for element in root.iter("{*}style"):
            self._extent = self._extent if any(self._extent) else _extent(root)
            text = "".join(str(part) for part in element.itertext())
            if len(text) > MOST_SHEET:
                notes.add("style-left-out", "error", "style", "A style sheet is too long to be read; simplify it.")
            elif element.get("type", "text/css").strip().lower() in ("text/css", ""):
                parsed = tinycss2.parse_stylesheet(text, skip_comments=True, skip_whitespace=True)
                rules += self._add(matcher, parsed)
        if rules:
            for wrapper in cssselect2.ElementWrapper.from_xml_root(root).iter_subtree():
                found = [payload for _, _, pseudo, payload in matcher.match(wrapper) if pseudo is None]
                if found:
                    self._sheets[wrapper.etree_element] = found

    def _add(self, matcher: Any, rules: Iterable[Any]) -> int:
        count = 0
        for rule in rules:
            if rule.type == "at-rule":
                count += self._at_rule(matcher, rule)
            elif rule.type == "qualified-rule":
                count += self._rule(matcher, rule)
        return count

    def _at_rule(self, matcher: Any, rule: Any) -> int:
        name = rule.lower_at_keyword
        if name == "media" and rule.content is not None:
            medium = tinycss2.serialize(rule.prelude).strip().lower()
            if medium in ("", "all", "screen"):
                inner = tinycss2.parse_rule_list(rule.content, skip_comments=True, skip_whitespace=True)
                return self._add(matcher, inner)
            if medium.startswith("print"):
                return 0
        if name not in ("font-face", "charset", "namespace", "keyframes", "-webkit-keyframes", "page"):
            words = f"The style sheet's @{name} is not followed; write plain rules."
            self._notes.add("style-left-out", "warning", "style", words)
        return 0

    def _rule(self, matcher: Any, rule: Any) -> int:
        written, fault = tinycss2.serialize(rule.prelude), ""
        try:
            selectors = cssselect2.compile_selector_list(rule.prelude)
        except cssselect2.SelectorError:
            selectors, fault = [], "not understood."
        if selectors and self._too_costly(written):
            selectors, fault = [], "too involved; name a class instead."
        if fault:
            words = f"The style rule “{written.strip()[:40]}” is {fault}"
            self._notes.add("style-left-out", "warning", "style", words)
        payload = declarations(rule.content) if selectors else None
        for selector in selectors:
            matcher.add_selector(selector, payload)
        return len(selectors)

    def _too_costly(self, selectors: str) -> bool:
        elements, depth, widest = self._extent
        for selector in selectors.split(","):
            loose = len(re.findall(r"(?<![>+~\s])\s+(?![>+~\s])|~(?!=)", selector.strip()))
            if elements * math.comb(max(depth, widest if "~" in selector else 0), loose) > MOST_COMPARED:
                return loose > 0
        return False

    def style(self, element: etree._Element, parent: Style, name: str, measure: Measure) -> Style:
        """The computed style of ``element`` beneath ``parent`` (which need not be its parent in the file)."""
        declared = self._declared(element)
        if not declared:
            return Style(parent.inherited, {}, parent.font)
        own: dict[str, str] = {}
        changed = {prop: raw.strip() for prop, raw in declared.items() if prop.startswith("--")}
        if any("var(" in raw for raw in declared.values()):
            declared = {prop: _resolved(raw, parent.inherited | changed) for prop, raw in declared.items()}
        font = _font_size(declared.get("font-size"), parent.font, measure)
        for prop, raw in declared.items():
            if prop.startswith("--"):
                continue
            value = raw.strip()
            low = value.lower()
            if low in ("inherit", "unset", "revert", "revert-layer", "initial", ""):
                if low == "inherit" and prop not in INHERITED:
                    own[prop] = parent.own.get(prop, OWN.get(prop, ""))
                elif low == "initial" and prop in INHERITED:
                    changed[prop] = INHERITED[prop]
                continue
            if not self._valid(prop, value, low, name):
                continue
            if prop in INHERITED:
                changed[prop] = _absolute(prop, value, font)
            else:
                own[prop] = value
        return Style(parent.inherited | changed if changed else parent.inherited, own, font)

    def _declared(self, element: etree._Element) -> dict[str, str]:
        declared = {str(key): str(value) for key, value in element.attrib.items() if key in _ATTRIBUTES}
        important: dict[str, str] = {}
        for normal, strong in self._sheets.get(element, ()):
            declared.update(normal)
            important.update(strong)
        text = element.get("style")
        if text:
            normal, strong = inline(text)
            declared.update(normal)
            important.update(strong)
        declared.update(important)
        return declared

    def _valid(self, prop: str, value: str, low: str, name: str) -> bool:
        if "var(" in low:
            words = f"{name}: its {prop} “{value[:40]}” refers to a variable that is not set, so it is ignored."
            self._notes.add("style-left-out", "warning", name, words)
            return False
        if prop in _KEYWORDS:
            return low in _KEYWORDS[prop]
        if prop not in _COLOURS or is_paint(value):
            return True
        words = f"{name}: “{value[:40]}” is no colour that is known ({prop}), so it is ignored; "
        self._notes.add("unknown-colour", "warning", name, words + "write it as #rrggbb.")
        return False


def _resolved(text: str, known: dict[str, str]) -> str:
    """With variables put in (W3C CSS Variables 1); left as written where one is not set or they go in circles."""
    for _ in range(MOST_VARIABLES):
        found = _VARIABLE.search(text)
        if found is None or len(text) > 2000:
            break
        value = known.get(found.group(1), found.group(2))
        if value is None:
            break
        text = text[: found.start()] + value.strip() + text[found.end() :]
    return text


def _extent(root: etree._Element) -> tuple[int, int, int]:
    """How many elements there are, how deep they nest, and the most children that one of them has."""
    elements = depth = widest = 0
    stack = [(root, 1)]
    while stack:
        element, level = stack.pop()
        elements, depth, widest = elements + 1, max(depth, level), max(widest, len(element))
        stack.extend((child, level + 1) for child in element)
    return elements, depth, widest


def is_paint(value: str) -> bool:
    """Whether ``value`` may stand for fill, stroke or a colour."""
    return (
        colour.parse(value) is not None
        or value.lower() in ("none", "currentcolor", "context-fill", "context-stroke")
        or value.lower().startswith("url(")
        or "icc-color" in value
    )


def reference(value: str) -> tuple[str, str] | None:
    """The id and the fallback of ``url(#id) fallback``; None where it is no reference."""
    found = _PAINT.match(value.strip())
    return (found.group(1).strip(), found.group(2).strip()) if found else None


def _absolute(prop: str, value: str, font: float) -> str:
    """Lengths in em are fixed where they are declared, before they inherit."""
    if prop in ("stroke-width", "stroke-dashoffset", "letter-spacing", "word-spacing") and value.lower().endswith(
        ("em", "ex")
    ):
        try:
            return repr(Measure(0, 0, font).length(value, "size"))
        except ValueError:
            return value
    return value


def _font_size(value: str | None, parent: float, measure: Measure) -> float:
    if value is None:
        return parent
    low = value.strip().lower()
    if low in _FONT_SIZES:
        return _FONT_SIZES[low]
    if low in ("smaller", "larger"):
        return parent / 1.2 if low == "smaller" else parent * 1.2
    try:
        if low.endswith("%"):
            return Measure(parent, parent, parent).length(low, "x")
        size = Measure(measure.width, measure.height, parent, measure.root_font).length(low, "size")
    except ValueError:
        return parent
    return size if size > 0 else parent


def words(element: etree._Element) -> str:
    """What an element says, blanks joined, cut after 40 letters."""
    text = " ".join("".join(t for t in element.itertext() if isinstance(t, str)).split())
    return text if len(text) <= 40 else text[:39] + "…"


def title(element: etree._Element) -> str | None:
    """A layer's label: an attribute called ``label`` of any namespace, else its ``title``."""
    for key, value in element.attrib.items():
        if str(key).rpartition("}")[2] in ("label", "aria-label") and str(value).strip():
            return str(value).strip()
    for child in element:
        if isinstance(child.tag, str) and local(child) == "title":
            return words(child) or None
    return None
