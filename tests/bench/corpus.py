"""A whole artwork set through the line, judged by the reference renderer.

    python tests/bench/corpus.py twemoji --count 200 --width 80

Prints how many convert, CPU a file, and the median and worst of agreement, coverage and spill, with the sums of
stitches, trims and colour changes. Files with gradients, opacity or filters are converted and counted, but only
flat-colour ones are judged by picture.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import multiprocessing
import random
import re
import signal
import sys
import time
import traceback
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from corpora import corpus
from groundwork import foundation_on_cover
from judge import judge, short_stitches

from pipeline import flow
from pipeline.settings import Settings

NOT_FLAT = re.compile(rb"Gradient|opacity|<filter|<mask|<pattern|<image|<text", re.IGNORECASE)
SETTINGS = Settings()
TIMEOUT_S = 60


def one(job: tuple[str, float]) -> dict[str, object]:
    """One file's figures."""
    path, width = Path(job[0]), job[1]
    signal.signal(signal.SIGALRM, _late)
    signal.alarm(TIMEOUT_S)
    try:
        return _figures(path, width)
    except Exception as error:
        where = traceback.extract_tb(error.__traceback__)[-1]
        return {"name": path.name, "error": f"{type(error).__name__}: {error} ({where.name})"[:200]}
    finally:
        signal.alarm(0)


def _late(number: int, frame: object) -> None:
    raise TimeoutError(f"not done in {TIMEOUT_S} s")


def _figures(path: Path, width: float) -> dict[str, object]:
    began = time.process_time()
    plan = flow.convert(path, SETTINGS, width, twin=True)
    cpu = time.process_time() - began
    row: dict[str, object] = {
        "name": path.name,
        "cpu": cpu,
        "stitches": plan.counts.stitches,
        "cut": plan.cut_out.stitches,
        "trims": plan.counts.trims,
        "changes": plan.counts.colour_changes,
        "gap": plan.checks.gap_mm2,
        "cut_gap": plan.cut_out.gap_mm2,
        "layers": plan.checks.peak_layers,
        "penetrations": plan.checks.peak_penetrations_per_mm2,
        "findings": sorted({finding.code for finding in plan.findings}),
    }
    on, every = foundation_on_cover(plan.sewing, SETTINGS.thread.laid_mm)
    row["foundation_on_cover"], row["foundation"] = on, every
    row["short"], row["longest"] = short_stitches(plan)
    if not NOT_FLAT.search(path.read_bytes()):
        with contextlib.suppress(Exception):
            verdict = judge(path, plan, page="page-background" in row["findings"])  # type: ignore[operator]
            row |= {"agreement": verdict.agreement, "covered": verdict.covered, "outside": verdict.outside}
    return row


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("set", choices=["twemoji", "flags", "openclipart"])
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--width", type=float, default=80.0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--json", type=Path)
    args = parser.parse_args()
    files = corpus(args.set)
    chosen = random.Random(20261125).sample(files, min(args.count, len(files)))
    with multiprocessing.get_context("spawn").Pool(args.workers, maxtasksperchild=25) as pool:
        rows = pool.map(one, [(str(path), args.width) for path in chosen], chunksize=1)
    if args.json:
        args.json.write_text(json.dumps(rows, indent=1))
    report(rows)


def report(rows: list[dict[str, object]]) -> None:
    """The figures for people."""
    good = [row for row in rows if "error" not in row]
    print(f"converted {len(good)} of {len(rows)} ({len(good) / len(rows):.1%})")
    for row in rows:
        if "error" in row:
            print("  failed", row["name"], row["error"])
    for key, worst in (
        ("cpu", "high"), ("agreement", "low"), ("covered", "low"), ("outside", "high"), ("layers", "high"),
        ("penetrations", "high"), ("longest", "high"), ("short", "high"),
    ):  # fmt: skip
        some = sorted((float(str(r[key])), str(r["name"])) for r in good if key in r)
        if not some:
            continue
        values = np.array([value for value, _ in some])
        tail = some[:10] if worst == "low" else some[::-1][:10]
        print(f"{key:13s} n {len(values):4d}  median {np.median(values):.4f}  p05 {np.percentile(values, 5):.4f}"
              f"  p95 {np.percentile(values, 95):.4f}")  # fmt: skip
        print("      worst: " + ", ".join(f"{name} {value:.4g}" for value, name in tail))
    for key in ("stitches", "cut", "trims", "changes", "gap", "cut_gap", "foundation", "foundation_on_cover"):
        print(f"{key:20s} sum {sum(float(str(row[key])) for row in good):.1f}")


if __name__ == "__main__":
    main()
