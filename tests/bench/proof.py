"""Is the plans' own inspection right, what does it cost, and is layering worth it? On real and made artwork.

    python tests/bench/proof.py twemoji --count 200
    python tests/bench/proof.py made

A set: for every file the picture agreement as inspected and as an independent rasteriser (Pillow) sees it (for the
first 100), gap area and stitches in layers and cut out puzzle-fashion, thread a thousand stitches, and CPU of
making the plan, of the plan cut out, and of inspecting both. ``made``: discs on a square from small to large (from
which size on does cutting out save stitches?), thread of plain tatami, and the pull model by stitch length,
direction and fabric.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy import ndimage

sys.path.insert(0, str(Path(__file__).parents[1]))

from corpora import corpus

from pipeline import flow
from pipeline.measure import reckoning
from pipeline.measure.coverage import artwork
from pipeline.measure.displacement import displaced
from pipeline.measure.findings import inspection_findings
from pipeline.measure.inspection import examine
from pipeline.measure.thread_path import path
from pipeline.model import Drawing, Finding, Pass, Region, Sewing, Shape, points
from pipeline.read.reading import read_drawing
from pipeline.recipes import FABRICS
from pipeline.regions.stack import cut_out, stack
from pipeline.settings import Settings

SETTINGS = Settings()
PX = 96
"""Pixels a mm of the independent picture: a thread is 24 wide. Pillow draws between whole pixels, so that rows
0.2 mm apart leave hair-fine slits that no geometry has: of one file it sees 95.43, 96.09, 96.27 and 96.39 % at 32,
48, 64 and 96 pixels a mm, where the inspection says 96.57 at its 8 and 96.69 at 40."""


def agreement_by_pillow(sewing: Sewing, layers: tuple[Region, ...], laid_mm: float, border_mm: float) -> float:
    """The share of the judged picture in the right colour, painted by Pillow alone."""
    boxes = np.array([region.visible.bounds for region in layers])
    least, most = boxes[:, :2].min(axis=0) - 2.0, boxes[:, 2:].max(axis=0) + 2.0
    width, height = np.ceil((most - least) * PX).astype(int).tolist()
    colours = list(dict.fromkeys([*(region.colour for region in layers), *sewing.colours]))
    wanted, top = (Image.new("L", (width, height)) for _ in range(2))
    pen = ImageDraw.Draw(wanted)
    for region in layers:
        for part in region.visible.geoms:
            mask = Image.new("1", (width, height))
            brush = ImageDraw.Draw(mask)
            brush.polygon([tuple(p) for p in (np.array(part.exterior.coords) - least) * PX], fill=1)
            for hole in part.interiors:
                brush.polygon([tuple(p) for p in (np.array(hole.coords) - least) * PX], fill=0)
            pen.bitmap((0, 0), mask, fill=colours.index(region.colour) + 1)
    needle = ImageDraw.Draw(top)
    last: NDArray[np.float64] = np.empty((0, 2))
    for each in sewing.passes:
        line = np.vstack([last, each.points]) if each.approach in ("sewn", "jump") else each.points
        spots = [tuple(p) for p in np.rint((line - least) * PX)]
        label = colours.index(sewing.colours[each.thread]) + 1
        if len(spots) > 1:
            needle.line(spots, fill=label, width=round(laid_mm * PX), joint="curve")
        last = each.points[-1:]
    want, seen = np.asarray(wanted), np.asarray(top)
    rim = np.zeros(want.shape, dtype=bool)
    rim[:, 1:] |= want[:, 1:] != want[:, :-1]
    rim[1:] |= want[1:] != want[:-1]
    judged = (want > 0) & (ndimage.distance_transform_edt(~rim) > border_mm * PX)
    return float((want == seen)[judged].mean()) if judged.any() else 1.0


def one(file: Path, width: float, by_pillow: bool) -> dict[str, float]:
    """One file's figures."""
    notes: list[Finding] = []
    settings, clock = SETTINGS.measure, time.process_time
    thread, fabric = SETTINGS.thread, SETTINGS.fabric
    marks = [clock()]
    layers = stack(read_drawing(file, SETTINGS.read, notes.append, width), SETTINGS.regions, notes.append)
    sewing = flow.sew(layers, SETTINGS, notes.append)[2]
    counts = reckoning.count(sewing, thread, fabric, SETTINGS.craft, settings)
    marks.append(clock())
    art = artwork(layers, settings)
    seen = examine(sewing, layers, SETTINGS.craft, settings, art)
    found = inspection_findings(seen, sewing, SETTINGS.craft, settings)
    marks.append(clock())
    puzzle = flow.sew(cut_out(layers), SETTINGS, notes.append)[2]
    marks.append(clock())
    cut = examine(puzzle, layers, SETTINGS.craft, settings, art).checks
    marks.append(clock())
    row = {
        "stitches": seen.checks.stitches, "cut_stitches": cut.stitches,
        "gap": seen.checks.gap_mm2, "cut_gap": cut.gap_mm2,
        "longest": seen.checks.longest_gap_mm, "cut_longest": cut.longest_gap_mm,
        "layers": seen.checks.peak_layers, "cut_layers": cut.peak_layers,
        "metres": counts.thread_m / counts.stitches * 1000.0,
        "warnings": sum(each.severity != "note" for each in found), "findings": len(found),
        "make": marks[1] - marks[0], "inspect": marks[2] - marks[1],
        "cut_make": marks[3] - marks[2], "cut_inspect": marks[4] - marks[3],
    }  # fmt: skip
    if by_pillow:
        other = agreement_by_pillow(sewing, layers, thread.laid_mm, settings.border_mm)
        row |= {"agreement": seen.checks.picture_agreement, "pillow": other}
    return row


def of_set(name: str, count: int, width: float, pictures: int) -> None:
    """Figures of a set."""
    files = corpus(name)
    chosen = random.Random(20261125).sample(files, min(count, len(files)))
    rows = []
    for number, file in enumerate(chosen):
        try:
            rows.append(one(file, width, number < pictures))
        except Exception as error:
            print(f"  failed {file.name} {error!r}"[:160])
    table = {key: np.array([row[key] for row in rows if key in row]) for key in rows[0]}
    print(f"{name}: {len(rows)} of {len(chosen)} files, {width:g} mm")
    if pictures:
        apart = 100.0 * np.abs(table["agreement"] - table["pillow"])
        print(f"agreement, here against Pillow ({len(apart)} files): median {np.median(apart):.2f} points,"
              f" largest {apart.max():.2f}, over 0.5: {int((apart > 0.5).sum())}")  # fmt: skip
    gap, cut = table["gap"], table["cut_gap"]
    share = gap / np.maximum(cut, 1e-9)
    told = cut >= 0.5
    print(f"gap: layered {gap.sum():.1f} mm², cut out {cut.sum():.1f} mm²: {gap.sum() / cut.sum():.2%};"
          f" file by file (cut out at least 0.5 mm², {int(told.sum())} files) {spread(100.0 * share[told])} %,"
          f" over 2 %: {int((share[told] > 0.02).sum())}")  # fmt: skip
    print(f"longest gap mm: layered {spread(table['longest'])}, cut out {spread(table['cut_longest'])}")
    print(f"stitches, layered over cut out: {spread(100.0 * (table['stitches'] / table['cut_stitches'] - 1.0))} %,"
          f" sums {table['stitches'].sum() / table['cut_stitches'].sum() - 1.0:+.1%}")  # fmt: skip
    print(f"peak layers: layered {spread(table['layers'])}, cut out {spread(table['cut_layers'])}")
    print(f"top thread, m a thousand stitches: {spread(table['metres'])}")
    print(f"findings of the inspection a file: {spread(table['findings'])}; warnings and errors"
          f" {spread(table['warnings'])}")  # fmt: skip
    looked = table["inspect"] + table["cut_inspect"]
    medians = {key: np.median(table[key]) for key in ("make", "inspect", "cut_make", "cut_inspect")}
    print("CPU, median s: " + ", ".join(f"{key} {value:.3f}" for key, value in medians.items()))
    print(f"  inspections over making the plan: {spread(looked / table['make'])}; of medians"
          f" {np.median(looked) / medians['make']:.2f}; own inspection alone"
          f" {np.median(table['inspect']) / medians['make']:.2f}")  # fmt: skip


def spread(values: NDArray[np.float64]) -> str:
    """5th, 25th, 50th, 75th and 95th percentile."""
    low, *middle, high = np.percentile(values, [5, 25, 50, 75, 95])
    return " / ".join(f"{value:.2f}" for value in (low, *middle, high))


def discs() -> None:
    """A disc laid on a 60 mm square, and set into it: stitches and gap by size."""
    from shapely.geometry import MultiPolygon, Point, box

    print("disc mm  layered  cut out  difference  gap layered  gap cut out")
    saved = None
    for width in (4, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24, 28, 32, 40):
        shapes = tuple(
            Shape(name, None, colour, MultiPolygon([area]))
            for name, colour, area in (
                ("sea", "#1f5a7a", box(0, 0, 60, 60)),
                ("sun", "#f2c230", Point(30, 30).buffer(width / 2, quad_segs=32)),
            )
        )
        drawing = Drawing("disc", "0" * 64, 60.0, 60.0, shapes)
        plan = flow.plan_of(drawing, SETTINGS, [], twin=True)
        layered, cut = plan.checks, plan.cut_out
        more = layered.stitches / cut.stitches - 1.0
        saved = width if saved is None and more > 0 else saved
        print(f"{width:7d}  {layered.stitches:7d}  {cut.stitches:7d}  {more:+10.1%}  {layered.gap_mm2:11.2f}"
              f"  {cut.gap_mm2:11.2f}")  # fmt: skip
    print(f"cutting out starts to save at a disc of {saved} mm (a prototype: 16-18 mm)")


def thread() -> None:
    """Top thread of plain tatami of 4 mm, by the depth at which the threads lock."""
    from dataclasses import replace

    from shapely.geometry import MultiPolygon, box

    for side in (20, 40, 60):
        shape = Shape("sea", None, "#1f5a7a", MultiPolygon([box(0, 0, side, side)]))
        plan = flow.plan_of(Drawing("square", "0" * 64, 60.0, 60.0, (shape,)), SETTINGS, [])
        found = []
        for depth in (0.5, SETTINGS.measure.interlock, 1.0):
            settings = replace(SETTINGS.measure, interlock=depth)
            counts = reckoning.count(plan.sewing, SETTINGS.craft, settings)
            found.append(f"interlock {depth:g}: top {counts.thread_m / counts.stitches * 1000.0:.2f},"
                         f" bobbin {counts.bobbin_m / counts.stitches * 1000.0:.2f}")  # fmt: skip
        print(f"square of {side} mm, m a thousand: " + "; ".join(found))


def pull() -> None:
    """Width lost by a row without compensation, by length, direction and fabric."""
    lengths = (0.5, 1.0, 1.5, 2.0, 4.0, 7.0)
    for fabric in FABRICS:
        for angle in (0.0, 22.5, 45.0, 90.0):
            turn = np.deg2rad(angle)
            along = np.array([np.cos(turn), -np.sin(turn)])
            lost = []
            for length in lengths:
                row = Pass(0, "r1", "r1.1", "cover", "colour", points([(0.0, 0.0), along * length]))
                moved = displaced(path(Sewing((0.0, 0.0), ("#000000",), (row,))), fabric, SETTINGS.measure)
                lost.append(length - float(np.ptp(moved @ along)))
            steady = all(b >= a - 1e-9 for a, b in pairwise(lost))
            print(f"{fabric.name:12s} {angle:5.1f}°  narrower by mm "
                  + " ".join(f"{value:.3f}" for value in lost)
                  + ("" if steady and min(lost) > 0.0 else "  NOT MONOTONE"))  # fmt: skip


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("set", choices=["twemoji", "flags", "openclipart", "made"])
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--pictures", type=int, default=100, help="files that Pillow paints as well")
    parser.add_argument("--width", type=float, default=80.0)
    args = parser.parse_args()
    if args.set == "made":
        discs()
        thread()
        pull()
    else:
        of_set(args.set, args.count, args.width, args.pictures)


if __name__ == "__main__":
    main()
