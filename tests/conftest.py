"""Third-party artwork for tests: installed by package, pinned, never committed.

* npm ``@twemoji/svg`` 15.0.0: graphics CC-BY 4.0.
* npm ``flag-icons`` 7.5.0: MIT.
* Debian ``openclipart-svg``: public domain (CC0).
"""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import tarfile
from collections.abc import Callable
from pathlib import Path

import pytest

PROJECT = Path(__file__).parents[1]
KEPT = Path(__file__).parent / ".corpora"
NPM = {"twemoji": "@twemoji/svg@15.0.0", "flags": "flag-icons@7.5.0"}
DEBIAN = {"openclipart": Path("/usr/share/openclipart/svg")}
FULL = os.environ.get("PLYSTITCH_FULL") == "1"

Sample = Callable[[str, int, int], list[Path]]


def corpus(name: str) -> list[Path]:
    """All SVG files of a set, in a fixed order; empty if it cannot be had here."""
    if name in DEBIAN:
        return sorted(DEBIAN[name].rglob("*.svg")) if DEBIAN[name].exists() else []
    folder = KEPT / name
    if not folder.exists() and not _unpacked(NPM[name], folder):
        return []
    within = folder / "package" / "flags" / "4x3" if name == "flags" else folder
    return sorted(within.rglob("*.svg"))


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


@pytest.fixture(scope="session")
def sample() -> Sample:
    """``sample(name, full, quick)``: a seeded sample of a set, ``full`` files or, in a quick run, ``quick``."""

    def choose(name: str, full: int, quick: int) -> list[Path]:
        files = corpus(name)
        if not files:
            if os.environ.get("CI"):
                pytest.fail(f"the {name} set could not be installed, and in CI it must be")
            pytest.skip(f"the {name} set could not be installed here (npm, or Debian's openclipart-svg)")
        return random.Random(20261125).sample(files, min(len(files), full if FULL else quick))

    return choose


@pytest.fixture(scope="session")
def artwork() -> Path:
    """The folder of our own designs."""
    return PROJECT / "artwork"
