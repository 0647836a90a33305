"""A worker of the speed benches: converts the files that it is told, and says where the time went.

    python -P tests/bench/timed.py < JOBS

Each line of JOBS is a JSON list of an SVG file and a width in mm (or null); each line of the answer a JSON object
with ``rooms`` (CPU seconds by room), ``mib`` (peak memory of the process so far), ``digest`` (of plan and machine
file), ``stitches`` and ``error``. It knows of ``pipeline`` only what any commit has, so that an older one can be
timed by its own python (-P keeps this folder out of what that python imports).
"""

from __future__ import annotations

import functools
import hashlib
import json
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from pipeline import flow
from pipeline.settings import Settings
from pipeline.write import files as write

ROOMS = (
    (flow, "read_drawing", "read"),
    (flow, "stack", "regions"),
    (flow, "artwork", "measure"),
    (flow, "assign", "roles"),
    (flow, "split", "split"),
    (flow, "arrange", "steps"),
    (flow, "stitch", "stitch"),
    (flow, "join", "tie"),
    (flow, "examine", "measure"),
    (flow, "cut_out", "twin"),
    (write, "picture_bytes", "picture"),
)
"""What is timed: a function where it is called from, and the name under which its seconds are counted."""


class Clock:
    """CPU seconds by name: what is reckoned between two functions of ``ROOMS`` is counted as ``rest``."""

    def __init__(self) -> None:
        """Wrap every function of ``ROOMS``; of a commit that calls them otherwise the whole is timed alone."""
        self.spent: dict[str, float] = {}
        self.twin = False
        for module, function, room in ROOMS if hasattr(flow, "read_drawing") else ():
            setattr(module, function, self._timed(getattr(module, function), room))

    def _timed(self, function: Callable[..., Any], room: str) -> Callable[..., Any]:
        """From cutting out to the inspection of what came of it, everything is the twin's."""

        @functools.wraps(function)
        def timed(*args: Any, **more: Any) -> Any:
            self.twin = self.twin or room == "twin"
            name = "twin" if self.twin else room
            began = time.process_time()
            try:
                return function(*args, **more)
            finally:
                self.spent[name] = self.spent.get(name, 0.0) + time.process_time() - began
                if function.__name__ == "inspect":
                    self.twin = False

        return timed


def convert(path: Path, width_mm: float | None, clock: Clock) -> dict[str, Any]:
    """One file, from reading to its four files on the disk."""
    clock.spent, clock.twin = {}, False
    answer: dict[str, Any] = {"error": None, "digest": None, "stitches": 0}
    began = time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        try:
            plan = flow.convert(path, Settings(), width_mm)
            write.write_files(plan, Path(folder), "it")
            answer["stitches"] = plan.counts.stitches
        except Exception as error:
            answer["error"] = f"{type(error).__name__}: {error}"
        total = time.process_time() - began
        made = [Path(folder) / f"it{suffix}" for suffix in (".plan.json", ".dst")]
        if answer["error"] is None:
            answer["digest"] = hashlib.sha256(b"".join(item.read_bytes() for item in made)).hexdigest()
    clock.spent["rest"] = total - sum(clock.spent.values())
    answer["rooms"] = clock.spent
    answer["mib"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return answer


def main() -> None:
    """Answer line by line until there are no more jobs."""
    clock = Clock()
    for line in sys.stdin:
        path, width_mm = json.loads(line)
        print(json.dumps(convert(Path(path), width_mm, clock)), flush=True)


if __name__ == "__main__":
    main()
