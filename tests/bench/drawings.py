"""Many drawings of sets that were never used for tuning, at random widths: errors of ours, and where time goes.

    python tests/bench/drawings.py [COUNT] [--first N] [--record FILE]

Each drawing is converted in a child process of its own that may use 60 s of CPU, without the twin cut out for
comparison; every tenth is inspected as well. Prints what ended in an error of ours, what lost a region to one,
the distribution of CPU seconds, and the slowest with the room that took the time. ``--record`` keeps one JSON
line a drawing and goes on where that file ends.

Sets, none of which is kept: npm ``@iconify-json/`` ``skill-icons`` (MIT), ``flagpack`` (MIT), ``cif`` (CC0),
``fxemoji`` (Apache-2.0), ``emojione`` (CC BY 4.0), ``flat-color-icons`` (MIT); Debian ``openclipart-svg`` (CC0).
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from corpora import icon_drawings

from pipeline import flow
from pipeline.errors import ArtworkError
from pipeline.settings import Settings

ICONS = {
    "skill-icons": "1.2.4",
    "flagpack": "1.2.8",
    "cif": "1.2.7",
    "fxemoji": "1.2.2",
    "emojione": "1.2.3",
    "flat-color-icons": "1.2.3",
}
OPENCLIPART = Path("/usr/share/openclipart/svg")
WIDTHS_MM = 30.0, 250.0
MOST_CPU_S = 60
SEED = 20261128
INSPECTED = 10
"""Every so many drawings are inspected too."""
ROOMS = {
    "read": "read_drawing",
    "regions": "stack",
    "roles": "assign",
    "split": "split",
    "steps": "arrange",
    "stitch": "stitch",
    "tie": "join",
    "measure": "examine",
}
"""Each room's function as ``flow`` calls it."""


@dataclass(frozen=True)
class Drawing:
    """One drawing of a set: where it comes from, its name, its text if it lies in no file of its own."""

    set: str
    name: str
    source: str | Path

    def file(self, folder: Path) -> Path:
        """The drawing as a file."""
        if isinstance(self.source, Path):
            return self.source
        path = folder / f"{self.name}.svg"
        path.write_text(self.source)
        return path


def drawings() -> list[tuple[Drawing, float]]:
    """All drawings with their widths in mm, shuffled: the sets by turns, so that any first part is a mixture."""
    chance = random.Random(SEED)
    sets = [[Drawing(n, k, svg) for k, svg in icon_drawings(f"{n}@{v}").items()] for n, v in ICONS.items()]
    sets.append([Drawing("openclipart", str(f), f) for f in sorted(OPENCLIPART.rglob("*.svg"))])
    for each in sets:
        chance.shuffle(each)
    longest = max(map(len, sets))
    mixed = [each[turn] for turn in range(longest) for each in sets if turn < len(each)]
    return [(drawing, round(chance.uniform(*WIDTHS_MM), 1)) for drawing in mixed]


def timed(room: str, work: Callable[..., Any], tell: Callable[[str, Any], None]) -> Callable[..., Any]:
    """``work``, telling when it begins and how many CPU seconds it took."""

    def run(*args: Any, **named: Any) -> Any:
        tell("room", room)
        began = time.process_time()
        try:
            return work(*args, **named)
        finally:
            tell("took", (room, time.process_time() - began))

    return run


def convert(path: Path, width_mm: float, inspect: bool, tell: Callable[[str, Any], None]) -> None:
    """One drawing through the rooms, telling on the way; in a process of its own."""
    for room, name in ROOMS.items():
        setattr(flow, name, timed(room, getattr(flow, name), tell))
    settings, findings = Settings(), []
    try:
        drawing = flow.read_drawing(path, settings.read, findings.append, width_mm)
        layers = flow.stack(drawing, settings.regions, findings.append)
        _, parts, sewing = flow.sew(layers, settings, findings.append)
        if inspect and parts:
            flow.examine(sewing, layers, settings.craft, settings.measure)
    except ArtworkError as error:
        tell("refused", str(error))
    except Exception as error:
        tell("error", f"{type(error).__name__}: {error}")
        tell("traceback", traceback.format_exc())
    for finding in findings:
        if finding.code == "region-left-out":
            tell("lost", finding.message)


def child(path: Path, width_mm: float, inspect: bool) -> Iterator[tuple[str, Any]]:
    """What one conversion tells."""
    out, into = os.pipe()
    number = os.fork()
    if number == 0:
        os.close(out)
        resource.setrlimit(resource.RLIMIT_CPU, (MOST_CPU_S, MOST_CPU_S + 1))
        with os.fdopen(into, "w", buffering=1) as file:
            convert(path, width_mm, inspect, lambda key, value: print(json.dumps([key, value]), file=file))
        os._exit(0)
    os.close(into)
    with os.fdopen(out) as file:
        yield from (tuple(json.loads(line)) for line in file)
    _, status, used = os.wait4(number, 0)
    yield "cpu", used.ru_utime + used.ru_stime
    if os.WIFSIGNALED(status):
        late = os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL)
        yield "error", f"over {MOST_CPU_S} s of CPU" if late else f"died of signal {os.WTERMSIG(status)}"


def one(place: int, drawing: Drawing, width_mm: float) -> dict[str, Any]:
    """The record of one drawing."""
    record: dict[str, Any] = {"place": place, "set": drawing.set, "name": drawing.name, "width_mm": width_mm}
    record |= {"rooms": {}, "lost": []}
    with tempfile.TemporaryDirectory() as folder:
        for key, value in child(drawing.file(Path(folder)), width_mm, place % INSPECTED == 0):
            if key == "took":
                record["rooms"][value[0]] = round(record["rooms"].get(value[0], 0.0) + value[1], 3)
            elif key == "lost":
                record["lost"].append(value)
            else:
                record[key] = value
    return record


def told(record: dict[str, Any]) -> str:
    """Which drawing it is."""
    return f"{record['set']} {record['name']} at {record['width_mm']} mm"


def report(records: list[dict[str, Any]]) -> None:
    """Print what went wrong, and where the time went."""
    for kind in ("error", "lost"):
        bad = [record for record in records if record.get(kind)]
        print(f"\n{len(bad)} of {len(records)} drawings with {kind}:")
        for record in bad:
            print(f"  {told(record)}, in {record.get('room')}: {record[kind]}")
    refused = Counter(str(record["refused"])[:60] for record in records if record.get("refused"))
    print(f"\n{sum(refused.values())} refused as artwork:")
    for reason, count in refused.most_common(8):
        print(f"  {count:4d}  {reason}")
    cpu = np.array([record["cpu"] for record in records])
    quantiles = ", ".join(f"{share:.0%} {np.quantile(cpu, share):.2f}" for share in (0.5, 0.9, 0.99, 1.0))
    print(f"\nCPU seconds a drawing: mean {cpu.mean():.2f}, {quantiles}")
    rooms: Counter[str] = Counter()
    for record in records:
        rooms.update(record["rooms"])
    print("  by room: " + ", ".join(f"{room} {took:.0f}" for room, took in rooms.most_common()))
    print("slowest:")
    for record in sorted(records, key=lambda r: -r["cpu"])[:15]:
        took = sorted(record["rooms"].items(), key=lambda item: -item[1])[:3]
        where = ", ".join(f"{room} {s:.1f}" for room, s in took)
        print(f"  {record['cpu']:6.1f}  {told(record)}: {where}")


def main() -> None:
    """Run as many drawings as asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int, nargs="?", default=150)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--record", type=Path)
    given = parser.parse_args()
    lines = given.record.read_text().splitlines() if given.record and given.record.exists() else []
    records = [json.loads(line) for line in lines]
    chosen = list(enumerate(drawings()))[given.first : given.first + given.count][len(records) :]
    for place, (drawing, width_mm) in chosen:
        records.append(one(place, drawing, width_mm))
        if given.record:
            with given.record.open("a") as file:
                file.write(json.dumps(records[-1]) + "\n")
        if records[-1].get("error") or records[-1]["lost"]:
            print(f"{place} {told(records[-1])}: {records[-1].get('error') or records[-1]['lost']}")
            sys.stdout.flush()
    report(records)


if __name__ == "__main__":
    main()
