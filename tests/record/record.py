"""What every recorded design measures, and whether that got worse: ``recorded.json`` beside this file.

    python tests/record/record.py             shows what differs from the record
    python tests/record/record.py --accept    writes the record anew; its diff is what a change did

``--quick`` takes the files of a quick test run only (an accepted record keeps the others). Judged from plan
documents and a reference renderer, sharing nothing with the pipeline's own inspection.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from canvas import canvas, gap_after_pull, looks
from corpora import seeded
from sewn import LAYERS, Sewn, sewn
from sight import flat_edges, foundation_on_cover, travel_in_sight
from thickness import thickness

from pipeline import flow
from pipeline.settings import Settings
from pipeline.write.plan import plan_document

RECORD = Path(__file__).with_name("recorded.json")
ARTWORK = Path(__file__).parents[2] / "artwork"
WIDTH_MM = 80.0
SETS = {"twemoji": (24, 10), "flags": (12, 6), "openclipart": (12, 4), "words": (12, 5)}
"""Files of each set in full, and in a quick run."""
TRIM_S, CHANGE_S, STITCH_S, UP_MM_S = 6.0, 12.0, 60.0 / 800.0, 12.1 * 800.0 / 60.0
"""What a cut, a change and a stitch take, and how fast an empty needle moves (common practice, no source)."""

Measures = dict[str, float]


@dataclass(frozen=True)
class Allowance:
    """How much a measure may move: ``by`` and ``share`` of the record, whichever is more.

    ``good`` is the direction in which it may move freely, 1 up, -1 down, 0 none: then any change is worth a look.
    """

    good: int
    by: float
    share: float = 0.0

    def worse(self, was: float, now: float) -> bool:
        """Whether ``now`` has left what the record allows."""
        moved = now - was
        bad = abs(moved) if self.good == 0 else -self.good * moved
        return bad > max(self.by, self.share * abs(was)) + 1e-9


ALLOWED = {
    **{layer: Allowance(0, 12, 0.02) for layer in LAYERS},
    "jumps": Allowance(-1, 1, 0.05),
    "trims": Allowance(-1, 1, 0.03),
    "changes": Allowance(-1, 0),
    "needle_up_mm": Allowance(-1, 15, 0.04),
    "seconds": Allowance(-1, 8, 0.015),
    "thread_mm": Allowance(0, 60, 0.015),
    "longest_mm": Allowance(-1, 0.15),
    "short": Allowance(-1, 2, 0.02),
    "agreement": Allowance(1, 0.0025),
    "covered": Allowance(1, 0.0025),
    "outside": Allowance(-1, 0.0005, 0.1),
    "gap_mm2": Allowance(-1, 0.6, 0.08),
    "layers": Allowance(-1, 0.2),
    "thick_mm2": Allowance(-1, 0.5, 0.1),
    "penetrations": Allowance(-1, 1),
    "pierced_mm2": Allowance(-1, 1.5, 0.1),
    "travel_own_mm": Allowance(-1, 5, 0.1),
    "travel_other_mm": Allowance(-1, 1.5, 0.1),
    "travel_bare_mm": Allowance(-1, 1.5, 0.1),
    "travel_longest_mm": Allowance(-1, 2),
    "foundation_on_cover_mm": Allowance(-1, 3, 0.1),
    "foundation_on_own_mm": Allowance(-1, 2, 0.1),
    "flat_edge_mm": Allowance(-1, 5, 0.05),
    "tatami_mm2": Allowance(0, 4, 0.01),
    "satin_mm2": Allowance(0, 2, 0.015),
    "run_mm2": Allowance(0, 1, 0.03),
    "regions": Allowance(0, 0),
    "bases": Allowance(0, 0),
    "overlays": Allowance(0, 0),
    "kinds": Allowance(-1, 0),
    "warnings": Allowance(-1, 0),
}


def measured(plan: dict[str, Any], svg: Path) -> Measures:
    """All measures of a plan document and the artwork that it was made of (those of a word in a folder "words")."""
    work = sewn(plan)
    page = any(finding["code"] == "page-background" for finding in plan["findings"])
    board = canvas(svg, plan["source"]["width_mm"], [item["colour"] for item in plan["threads"]], page)
    found = {
        **_counted(work),
        **looks(board, work),
        "gap_mm2": gap_after_pull(board, work, plan["settings"]["fabric"]["pull_mm"]),
        **thickness(work),
        **travel_in_sight(work),
        **foundation_on_cover(work),
        "flat_edge_mm": flat_edges(plan, work),
        **_told(plan, svg),
    }
    return {name: _short(found[name]) for name in ALLOWED if name in found}


def _short(value: float) -> float:
    """Four places for shares, two for the rest; whole numbers as such."""
    value = round(float(value), 5 if abs(value) <= 1.0 else 2)
    return int(value) if value.is_integer() else value


def _counted(work: Sewn) -> Measures:
    lengths, on = work.lengths, work.stitched
    up = float(lengths[~on].sum())
    jumps, trims, colours = (int((work.approach == k).sum()) for k in (1, 2, 3))
    idle = trims * TRIM_S + (colours - 1) * CHANGE_S + up / UP_MM_S
    firm = on & (work.layer != LAYERS.index("lock"))
    return {
        **{layer: int((work.layer == k).sum()) for k, layer in enumerate(LAYERS)},
        "jumps": jumps,
        "trims": trims,
        "changes": colours - 1,
        "needle_up_mm": up,
        "seconds": idle + len(work.points) * STITCH_S,
        "thread_mm": float(lengths[on].sum()),
        "longest_mm": float(lengths[on].max(initial=0.0)),
        "short": int((lengths[firm] < 0.5 - 1e-6).sum()),
    }


def _told(plan: dict[str, Any], svg: Path) -> Measures:
    """What the plan says of regions, kinds and trouble."""
    parts = [part for region in plan["regions"] for part in region["parts"]]
    roles = [region["role"] for region in plan["regions"]]
    kinds: dict[str, float] = {}
    for part in parts:
        kinds[part["kind"]] = kinds.get(part["kind"], 0.0) + part["area_mm2"]
    found: Measures = {
        "tatami_mm2": kinds.get("tatami", 0.0),
        "satin_mm2": kinds.get("satin", 0.0),
        "run_mm2": kinds.get("run", 0.0) + kinds.get("triple run", 0.0),
        "regions": len(roles),
        "bases": roles.count("base"),
        "overlays": roles.count("overlay"),
        "warnings": sum(finding["severity"] != "note" for finding in plan["findings"]),
    }
    if svg.parent.name == "words":
        found["kinds"] = sum(area >= 0.02 * sum(kinds.values()) for area in kinds.values())
    return found


def recorded() -> dict[str, Measures]:
    """The record: measures by design."""
    return json.loads(RECORD.read_text()) if RECORD.exists() else {}


def written(record: dict[str, Measures]) -> str:
    """The record as text, one design a line, so that a diff reads as a list of designs."""
    return "{\n" + ",\n".join(f"{json.dumps(k)}: {json.dumps(record[k])}" for k in sorted(record)) + "\n}\n"


def worse(was: Measures, now: Measures) -> list[str]:
    """Every measure that left what its allowance grants, in words."""
    missing = [f"{name}: not measured any more" for name in was if name not in now]
    new = [f"{name}: not in the record" for name in now if name not in was]
    moved = [
        f"{name}: {was[name]:g} → {now[name]:g}"
        for name in now
        if name in was and ALLOWED[name].worse(was[name], now[name])
    ]
    return missing + new + moved


def designs(quick: bool) -> Iterator[tuple[str, Path, float | None]]:
    """Name, file and width of all that is recorded."""
    for path in sorted(ARTWORK.glob("*.svg")):
        yield f"artwork/{path.stem}", path, None
    for name, counts in SETS.items():
        for path in seeded(name, counts[quick]):
            yield f"{name}/{path.stem}", path, None if name == "words" else WIDTH_MM


def yardstick() -> float:
    """CPU seconds of a fixed piece of work like ours, beside which seconds mean something on any machine."""
    began = time.process_time()
    random = np.random.default_rng(1)
    for _ in range(20):
        np.hypot(*np.sort(random.random((2, 100_000)), axis=1)).argsort()
    return time.process_time() - began


def main() -> None:
    """Measure, and print or accept."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--accept", action="store_true")
    parser.add_argument("--quick", action="store_true")
    args = parser.parse_args()
    was, now, settings, bench = recorded(), dict[str, Measures](), Settings(), yardstick()
    for name, path, width in designs(args.quick):
        began = time.process_time()
        plan = plan_document(flow.convert(path, settings, width))
        made = time.process_time()
        now[name] = measured(plan, path)
        judged = time.process_time() - made
        print(f"{name:48} {(made - began) / bench:6.1f} yardsticks, judged in {judged:.2f} s", flush=True)
        for measure, value in now[name].items():
            before = was.get(name, {}).get(measure)
            if before != value:
                bad = before is not None and ALLOWED[measure].worse(before, value)
                print(f"    {measure}: {before} → {value}{'  WORSE' if bad else ''}")
        if args.accept:
            RECORD.write_text(written(was | now))
    if args.accept and not args.quick:
        RECORD.write_text(written(now))


if __name__ == "__main__":
    main()
