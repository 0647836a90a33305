"""What is sewn of what lies hidden: thickness, needle holes, stitches, colour changes, and what that costs in gaps.

    python tests/bench/hidden.py streamline --count 100 --before FOLDER
    python tests/bench/hidden.py twemoji --count 200 --results FILE

Every file is sewn in layers and cut out puzzle-fashion, at 80 mm, and judged from plan documents by the record's
code. FOLDER holds plan documents of the same files by another commit (``plystitch convert --width 80 --out
FOLDER``): then both are judged and compared file by file. ``--results`` keeps a JSON line a file and goes on where
that ended.

The fewest colour changes are reckoned from the drawing alone: a piece that shows must come after another only where
the two border in sight and the other runs on beneath it there; OR-tools (Apache-2.0) finds the fewest runs. For
``shift`` the thread of one colour is moved by 0.3 mm in eight directions, the worst of which counts: fabric that
shows within 1 mm of where two colours meet.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import shapely

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[1] / "record")]

from canvas import Canvas, canvas, cut_fine, gap_after_pull, looks
from corpora import seeded
from order import fewer_possible
from scipy import ndimage
from sewn import Sewn, sewn
from thickness import thickness

from pipeline import flow
from pipeline.model import Drawing, Finding
from pipeline.read.reading import read_drawing
from pipeline.regions.stack import cut_out
from pipeline.settings import Settings
from pipeline.write.plan import plan_document

SETTINGS = Settings()
WIDTH_MM = 80.0
SHIFT_MM = 0.3
NEAR_MM = 0.225
"""Half a thread and the distance that counts as covered."""
BORDER_MM = 0.5
SEAM_MM = 0.05
BENEATH_MM2 = 0.05
SOLVER_S = 10.0
Row = dict[str, Any]


def fewest_changes(drawing: Drawing, most: int) -> int:
    """The fewest colour changes that borders in sight allow; none over ``most`` is looked for."""
    shapes, above = [], shapely.MultiPolygon()
    for shape in reversed(drawing.shapes):
        seen = shapely.make_valid(shape.area).difference(above)
        above = above.union(shape.area)
        shapes += [(shape.colour, shape.area, p) for p in shapely.get_parts(seen) if p.area > BENEATH_MM2]
    shapes.reverse()
    colours = [colour for colour, _, _ in shapes]
    whole = np.array([area for _, area, _ in shapes], dtype=object)
    seen = np.array([area for _, _, area in shapes], dtype=object)
    one, other = shapely.STRtree(seen).query(seen, predicate="dwithin", distance=SEAM_MM)
    one, other = one[one > other], other[one > other]
    border = shapely.intersection(shapely.boundary(seen[one]), shapely.buffer(seen[other], SEAM_MM))
    beneath = shapely.intersection(shapely.intersection(seen[one], whole[other]), shapely.buffer(border, 0.5))
    must = (shapely.length(border) >= BORDER_MM) & (shapely.area(beneath) > BENEATH_MM2)
    direct = np.zeros((len(seen), len(seen)), dtype=bool)
    direct[one[must], other[must]] = True
    for stops in range(len(set(colours)), most + 1):
        if fewer_possible(colours, direct, stops, SOLVER_S) != "INFEASIBLE":
            return stops - 1
    return most


def shifted(board: Canvas, work: Sewn) -> float:
    """Fabric in sight, mm², at inner borders, when the worst colour is moved in the worst direction."""
    colours = range(int(work.thread.max()) + 1)
    lies = []
    for colour in colours:
        moves = work.moves[work.stitched & (work.thread == colour)]
        covered = np.ones(board.label.shape, dtype=bool)
        if len(moves):
            x, y = np.floor(board.placed(cut_fine(moves, 1.0 / board.px)[0])).astype(int).T
            covered[np.clip(y, 0, covered.shape[0] - 1), np.clip(x, 0, covered.shape[1] - 1)] = False
            lies.append(ndimage.distance_transform_edt(covered) <= NEAR_MM * board.px + 0.5)
    inner = board.border(inner=True)
    if not inner.any():
        return 0.0
    judged = board.art & (ndimage.distance_transform_edt(~inner) < board.px)
    count = np.sum(lies, axis=0)
    worst = 0
    step = SHIFT_MM * board.px
    for mine in lies:
        rest = count - mine
        for angle in np.arange(8) * np.pi / 4:
            by = np.rint(step * np.array([np.sin(angle), np.cos(angle)])).astype(int)
            worst = max(worst, int((judged & (rest + np.roll(mine, by, axis=(0, 1)) == 0)).sum()))
    return worst / board.px**2


def judged(document: dict[str, Any], svg: Path) -> Row:
    """A plan document's figures."""
    work = sewn(document)
    page = any(finding["code"] == "page-background" for finding in document["findings"])
    board = canvas(svg, document["source"]["width_mm"], [t["colour"] for t in document["threads"]], page, px=10)
    thick = thickness(work)
    return {
        "stitches": len(work.points),
        "changes": int((work.approach == 3).sum()) - 1,
        "trims": int((work.approach == 2).sum()),
        **thick,
        **looks(board, work),
        "gap": gap_after_pull(board, work, SETTINGS.fabric.pull_mm),
        "shift": shifted(board, work),
    }


def one(svg: Path, before: Path | None) -> Row:
    """One file's figures, ours, of the twin, and of the plan before."""
    found: list[Finding] = []
    drawing = read_drawing(svg, SETTINGS.read, found.append, WIDTH_MM)
    plan = flow.plan_of(drawing, SETTINGS, found)
    surfaces, parts, sewing = flow.sew(
        cut_out(tuple(surface.region for surface in plan.surfaces)), SETTINGS, lambda finding: None
    )
    twin = replace(plan, surfaces=surfaces, parts=parts, sewing=sewing)
    ours, theirs = (judged(json.loads(json.dumps(plan_document(each))), svg) for each in (plan, twin))
    row = {"name": svg.stem, **ours, **{f"cut_{key}": value for key, value in theirs.items()}}
    row["peak"] = plan.checks.peak_layers
    row["fewest"] = fewest_changes(drawing, row["changes"] + 1)
    if before is not None and (known := next(before.rglob(f"{svg.stem}.plan.json"), None)):
        row |= {f"was_{key}": value for key, value in judged(json.loads(known.read_text()), svg).items()}
    return row


def report(rows: list[Row]) -> None:
    """The figures for people."""

    def column(name: str) -> Any:
        return np.array([row.get(name, np.nan) for row in rows], dtype=float)

    def spread(name: str, values: Any) -> None:
        print(f"{name}: median {np.nanmedian(values):.3f}, 95th percentile {np.nanpercentile(values, 95):.3f}, "
              f"most {np.nanmax(values):.3f}, sum {np.nansum(values):.1f}")  # fmt: skip

    for name in ("layers", "peak", "thick_mm2", "penetrations", "pierced_mm2"):
        spread(name, column(name))
        if name != "peak" and not np.isnan(column(f"was_{name}")).all():
            spread(f"   before, {name}", column(f"was_{name}"))
    spread("stitches, layered over cut out", column("stitches") / column("cut_stitches"))
    print(f"changes {np.nansum(column('changes')):.0f}, fewest {np.nansum(column('fewest')):.0f}, "
          f"before {np.nansum(column('was_changes')):.0f}; trims {column('trims').sum():.0f}, "
          f"before {np.nansum(column('was_trims')):.0f}")  # fmt: skip
    for name, most in (("gap", 0.02), ("shift", 0.1)):
        ours, cut = column(name), column(f"cut_{name}")
        within = ours <= np.maximum(most * cut, 0.05)
        print(f"{name}: {ours.sum():.1f} mm² of {cut.sum():.1f} cut out ({ours.sum() / cut.sum():.1%}), before "
              f"{np.nansum(column(f'was_{name}')):.1f}; at most {most:.0%} of it in {within.mean():.1%} of files; "
              f"worst {_worst(rows, ours)}")  # fmt: skip
    for name in ("agreement", "covered"):
        fallen = column(f"was_{name}") - column(name)
        print(f"{name}: median {np.nanmedian(column(name)):.4f}, lower than before by over 0.1 % in "
              f"{int((fallen > 0.001).sum())} files: {_worst(rows, fallen)}")  # fmt: skip
    for name in ("layers", "thick_mm2", "penetrations"):
        print(f"most {name}: {_worst(rows, column(name))}")
    print(f"stitches over cut out: {_worst(rows, column('stitches') / column('cut_stitches'))}")
    print(f"changes over the fewest: {_worst(rows, column('changes') - column('fewest'))}")


def _worst(rows: list[Row], values: Any) -> str:
    order = np.argsort(-np.nan_to_num(values, nan=-1e9), kind="stable")[:8]
    return ", ".join(f"{rows[k]['name']} {values[k]:.3g}" for k in order)


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("set", choices=["twemoji", "flags", "openclipart", "streamline"])
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--before", type=Path)
    parser.add_argument("--results", type=Path)
    args = parser.parse_args()
    rows: list[Row] = []
    if args.results and args.results.exists():
        rows = [json.loads(line) for line in args.results.read_text().splitlines()]
    done = {row["name"] for row in rows}
    for svg in seeded(args.set, args.count):
        if svg.stem in done:
            continue
        try:
            rows.append(one(svg, args.before))
        except Exception as error:
            print(f"failed {svg.stem}: {type(error).__name__}: {error}"[:200], flush=True)
            continue
        if args.results:
            with args.results.open("a") as file:
                file.write(json.dumps(rows[-1]) + "\n")
    report(rows)


if __name__ == "__main__":
    main()
