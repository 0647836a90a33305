"""One wrap width for all prose: ``python tests/house/wrapping.py`` wraps README, DEVELOPERS and CHANGELOG anew."""

from __future__ import annotations

import re
import textwrap
from pathlib import Path

WIDTH = 116
"""As wide as the code."""
PROJECT = Path(__file__).parents[2]
PAGES = tuple(PROJECT / name for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md"))
ITEM = re.compile(r"(\* |\d+\. )")
AS_IT_IS = re.compile(r"\||#|!\[|```")


def wrapped(text: str) -> str:
    """``text`` with every paragraph and list item wrapped; tables, headings, pictures and code stay."""
    done: list[str] = []
    block: list[str] = []
    code = False

    def flush() -> None:
        if block:
            mark = ITEM.match(block[0])
            indent = " " * len(mark[0]) if mark else ""
            prose = " ".join(line.strip() for line in block)
            done.extend(
                textwrap.wrap(
                    prose, WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
                )
            )
            block.clear()

    for line in text.splitlines():
        if code or not line.strip() or AS_IT_IS.match(line):
            flush()
            done.append(line)
        else:
            if ITEM.match(line):
                flush()
            block.append(line)
        code ^= line.startswith("```")
    flush()
    return "\n".join(done) + "\n"


if __name__ == "__main__":
    for page in PAGES:
        page.write_text(wrapped(page.read_text()))
