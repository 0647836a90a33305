"""Starts ``timed.py`` under any python and talks to it."""

from __future__ import annotations

import json
import subprocess
import tempfile
from pathlib import Path
from typing import Any

SCRIPT = Path(__file__).with_name("timed.py")


class Worker:
    """A process that converts one file after another. ``python`` decides which ``pipeline`` it imports."""

    def __init__(self, python: str) -> None:
        """Start it, in a folder of no project."""
        self.process = subprocess.Popen(
            [python, "-P", str(SCRIPT)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=tempfile.gettempdir(),
        )

    def close(self) -> None:
        """No more files."""
        self.process.communicate()

    def convert(self, path: Path, width_mm: float | None) -> dict[str, Any]:
        """What ``timed.py`` says of one file."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(json.dumps([str(path), width_mm]) + "\n")
        self.process.stdin.flush()
        answer: dict[str, Any] = json.loads(self.process.stdout.readline())
        return answer
