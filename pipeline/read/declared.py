"""Declarations as a rule or a ``style`` attribute writes them, shorthands written out."""

from __future__ import annotations

import re
from typing import Any

import tinycss2

_SIMPLE = re.compile(r"[^\"'\\!{}@]*")


def inline(text: str) -> tuple[dict[str, str], dict[str, str]]:
    """The declarations of a ``style`` attribute: plain ones and important ones."""
    if _SIMPLE.fullmatch(text) and "/*" not in text and "data:" not in text:
        pairs = (part.partition(":") for part in text.split(";"))
        return _expanded({_named(key): value.strip() for key, colon, value in pairs if colon}), {}
    return declarations(text)


def _named(key: str) -> str:
    """A property's name; those of variables keep their case."""
    key = key.strip()
    return key if key.startswith("--") else key.lower()


def declarations(content: Any) -> tuple[dict[str, str], dict[str, str]]:
    """The declarations of a rule: plain ones and important ones."""
    normal: dict[str, str] = {}
    important: dict[str, str] = {}
    for entry in tinycss2.parse_blocks_contents(content, skip_comments=True, skip_whitespace=True):
        if entry.type == "declaration":
            value = tinycss2.serialize(t for t in entry.value if t.type != "comment").strip()
            name = entry.name if entry.name.startswith("--") else entry.lower_name
            (important if entry.important else normal)[name] = value
    return _expanded(normal), _expanded(important)


def _expanded(declared: dict[str, str]) -> dict[str, str]:
    """With the shorthands ``marker`` and ``font`` written out."""
    if "font" in declared:
        declared = _font(declared["font"]) | declared
    if "marker" in declared:
        for place in ("marker-start", "marker-mid", "marker-end"):
            declared.setdefault(place, declared["marker"])
    return declared


def _font(text: str) -> dict[str, str]:
    """The parts of the shorthand ``font``: style and weight, size (and line height), families."""
    found = re.fullmatch(
        r"((?:[\w-]+\s+)*?)([\d.]+[a-z%]*|[a-z-]*(?:small|medium|large))(?:/\S+)?\s+(.+)", text.strip()
    )
    if found is None:
        return {}
    parts = {"font-size": found.group(2), "font-family": found.group(3)}
    for word in found.group(1).split():
        if word in ("italic", "oblique"):
            parts["font-style"] = word
        elif word in ("bold", "bolder", "lighter") or word.isdecimal():
            parts["font-weight"] = word
    return parts
