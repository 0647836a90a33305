"""Several files written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

SUFFIXES = (".plan.json", ".dst", ".png", ".html")
"""What a plan's files end in."""

UNFINISHED = ".part"
"""Added to a file's name until it is whole."""

REPLACED = ".old"
"""Added to the name of the file before it until all new ones are in place."""


def write_whole(contents: dict[Path, bytes]) -> None:
    """Write several files, made whole beside their places first: all of them, or else the old ones stay.

    Raises OSError; folders that are missing are made.
    """
    beside = {path: path.with_name(path.name + UNFINISHED) for path in contents}
    try:
        for path, data in contents.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            beside[path].write_bytes(data)
        _put_in_place(beside)
    finally:
        for unfinished in beside.values():
            if unfinished.parent.is_dir():
                unfinished.unlink(missing_ok=True)


def _put_in_place(beside: dict[Path, Path]) -> None:
    """Rename the whole files into their places; if one is refused, put back what was there before."""
    kept: list[tuple[Path, Path | None]] = []
    try:
        for path, unfinished in beside.items():
            old = path.with_name(path.name + REPLACED) if path.is_file() else None
            if old is not None:
                os.replace(path, old)
            kept.append((path, old))
            os.replace(unfinished, path)
    except OSError:
        for path, old in kept:
            if path.is_file():
                path.unlink()
            if old is not None:
                os.replace(old, path)
        raise
    for _, old in kept:
        if old is not None:
            old.unlink()
