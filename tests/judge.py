"""The outside eye: a plan's stitches against the artwork as a reference renderer paints it.

Nothing of the pipeline's own reading or inspection is used.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from reference import rendered
from scipy import ndimage
from shapely.geometry import Polygon

from pipeline.geometry.raster import Grid, paint_segments
from pipeline.geometry.scanline import outline
from pipeline.model import Plan
from pipeline.stitch.settings import TatamiSettings

PX = 10
THREAD_MM = 0.25
NEAR_MM = 0.1
BORDER_MM = 0.4
SPILL_MM = 0.6


@dataclass(frozen=True)
class Verdict:
    """Shares in 0…1, as issue bars count them."""

    agreement: float
    covered: float
    outside: float


def sewn_segments(plan: Plan) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """All sewn stitches ``(n, 2, 2)`` in mm, with the index of their thread."""
    passes = plan.sewing.passes
    every = np.vstack([p.points for p in passes])
    thread = np.concatenate([np.full(len(p.points), p.thread, dtype=np.int32) for p in passes])
    sewn = np.concatenate([[p.approach == "sewn"] + [True] * (len(p.points) - 1) for p in passes])[1:]
    return np.stack([every[:-1], every[1:]], axis=1)[sewn], thread[1:][sewn]


def short_stitches(plan: Plan, least_mm: float = 0.3) -> tuple[int, float]:
    """Number of sewn stitches, locks apart, shorter than ``least_mm``; length of the longest sewn stitch."""
    passes = plan.sewing.passes
    every = np.vstack([p.points for p in passes])
    lock = np.concatenate([np.full(len(p.points), p.layer == "lock") for p in passes])[1:]
    sewn = np.concatenate([[p.approach == "sewn"] + [True] * (len(p.points) - 1) for p in passes])[1:]
    lengths = np.hypot(*np.diff(every, axis=0).T)
    return int((lengths[sewn & ~lock] < least_mm - 1e-9).sum()), float(lengths[sewn].max())


def judge(svg: Path, plan: Plan, page: bool = False) -> Verdict:
    """Compare a plan with its artwork. ``page``: white places count as page, which is not sewn."""
    width = round(plan.source.width_mm * PX)
    picture = rendered(svg, width).astype(np.float64)
    alpha = picture[..., 3:] / 255.0
    flat = picture[..., :3] * alpha + 255.0 * (1.0 - alpha)
    art = alpha[..., 0] > 0.5
    if page:
        art &= (flat < 250).any(axis=2)
    palette = np.array([[int(c[k : k + 2], 16) for k in (1, 3, 5)] for c in plan.sewing.colours], dtype=float)
    label = np.argmin(((flat[:, :, None, :] - palette) ** 2).sum(axis=3), axis=2)
    label[~art] = -1
    px = picture.shape[1] / plan.source.width_mm
    edge = np.zeros_like(art)
    edge[:, 1:] |= label[:, 1:] != label[:, :-1]
    edge[1:] |= label[1:] != label[:-1]
    judged = art & (ndimage.distance_transform_edt(~edge) > BORDER_MM * px)
    grid = Grid(0.0, 0.0, px, picture.shape[1], picture.shape[0])
    segments, thread = sewn_segments(plan)
    top = np.full(art.shape, -1, dtype=np.int32)
    paint_segments(grid, segments, THREAD_MM, thread, top)
    near = np.full(art.shape, -1, dtype=np.int32)
    paint_segments(grid, segments, THREAD_MM + 2 * NEAR_MM, np.zeros_like(thread), near)
    agreement = float((top == label)[judged].mean()) if judged.any() else 1.0
    covered = float((near >= 0)[art].mean()) if art.any() else 1.0
    return Verdict(agreement, covered, _outside(segments, art, px))


def _outside(segments: NDArray[np.float64], art: NDArray[np.bool_], px: float) -> float:
    """Share of thread length farther outside the artwork than the spill distance."""
    margin = 100
    away = ndimage.distance_transform_edt(~np.pad(art, margin)) / px
    lengths = np.hypot(*(segments[:, 1] - segments[:, 0]).T)
    count = np.maximum(1, np.ceil(lengths / 0.1)).astype(int)
    owner = np.repeat(np.arange(len(segments)), count)
    share = (np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count) + 0.5) / count[owner]
    places = segments[owner, 0] + (segments[owner, 1] - segments[owner, 0]) * share[:, None]
    cells = np.clip((places * px).astype(int) + margin, 0, np.array(away.shape)[::-1] - 1)
    beyond = away[cells[:, 1], cells[:, 0]] > SPILL_MM
    weight = lengths[owner] / count[owner]
    return float(weight[beyond].sum() / weight.sum()) if weight.sum() else 0.0


def fill_estimate(
    area: Polygon, angle_deg: float, row_mm: float, stitch_mm: float, settings: TatamiSettings | None = None
) -> float:
    """Stitches that filling ``area`` at ``angle_deg`` takes, in closed form; travel is not in it.

    area / (row × stitch) for the field, two needle points a turn, less what is left out near row ends. V / row
    rows, V being half the summed extent of all edges across the rows.
    """
    settings = settings or TatamiSettings()
    shape = outline(area, angle_deg)
    inner = np.ones(len(shape.points) - 1, dtype=bool)
    inner[shape.first[1:-1] - 1] = False
    rows = 0.5 * float(np.abs(np.diff(shape.points[:, 1]))[inner].sum()) / row_mm
    left_out = (2.0 * settings.merge_mm + settings.fan_mm) / stitch_mm
    return float(area.area) / (row_mm * stitch_mm) + (2.0 - left_out) * rows
