"""Pictures for the record: artwork as a reference renderer paints it, thread as its needle points lay it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from reference import rendered
from scipy import ndimage
from sewn import Flags, Floats, Ints, Sewn

PX = 8
"""Pixels a mm, so that a thread is two of them wide."""
MARGIN_MM = 4.0
THREAD_MM = 0.25
NEAR_MM, BORDER_MM, SPILL_MM = 0.1, 0.4, 0.6


@dataclass(frozen=True, eq=False)
class Canvas:
    """The artwork's thread at each pixel (-1 for none), ``margin`` pixels of nothing around it, ``px`` a mm."""

    label: Ints
    px: float
    margin: int

    @property
    def art(self) -> Flags:
        """Where the artwork shows anything."""
        return np.asarray(self.label >= 0)

    def placed(self, spots: Floats) -> Floats:
        """Places in mm as pixels."""
        return np.asarray(spots * self.px + self.margin)

    def border(self, inner: bool = False) -> Flags:
        """Where the colour changes; ``inner``: from thread to thread only."""
        found = np.zeros(self.label.shape, dtype=bool)
        for along in (0, 1):
            a, b = (np.moveaxis(self.label, along, 0)[cut] for cut in (slice(1, None), slice(None, -1)))
            edge = (a != b) & ((a >= 0) & (b >= 0) | (not inner))
            np.moveaxis(found, along, 0)[1:] |= edge
        return found


def canvas(svg: Path, width_mm: float, colours: list[str], page: bool = False, px: int = PX) -> Canvas:
    """The artwork in the nearest of ``colours``. ``page``: white places count as page, which is not sewn."""
    picture = rendered(svg, round(width_mm * px)).astype(np.float32)
    alpha = picture[..., 3:] / 255.0
    flat = picture[..., :3] * alpha + 255.0 * (1.0 - alpha)
    art = alpha[..., 0] > 0.5
    if page:
        art &= (flat < 250).any(axis=2)
    palette = np.array([[int(c[k : k + 2], 16) for k in (1, 3, 5)] for c in colours], dtype=np.float32)
    packed = (flat.astype(np.uint32) * np.array([65536, 256, 1], dtype=np.uint32)).sum(axis=2)
    shades, back = np.unique(packed, return_inverse=True)
    rgb = np.stack([shades >> 16, shades >> 8 & 255, shades & 255], axis=1).astype(np.float32)
    nearest = np.argmin(((rgb[:, None] - palette) ** 2).sum(axis=2), axis=1)
    label = np.where(art, nearest[back].reshape(art.shape), -1)
    true_px = picture.shape[1] / width_mm
    margin = round(MARGIN_MM * true_px)
    return Canvas(np.pad(label, margin, constant_values=-1), true_px, margin)


def threaded(board: Canvas, moves: Floats, thread: Ints) -> Ints:
    """Which thread lies on top at each pixel, -1 for none; ``moves`` in sewing order.

    Every place along the thread claims the pixels whose centres are within half a thread; the last claim wins.
    """
    spots, _, owner = cut_fine(moves, 1.0 / board.px)
    places = np.clip(board.placed(spots), 1.0, np.array(board.label.shape[::-1]) - 2.0)
    low = np.floor(places).astype(np.int64)
    around = np.stack(np.meshgrid((-1, 0, 1), (-1, 0, 1)), axis=-1).reshape(-1, 2)
    cells = low[:, None] + around
    away = cells + 0.5 - places[:, None]
    close = np.hypot(away[..., 0], away[..., 1]) <= THREAD_MM / 2 * board.px
    top = np.full(board.label.shape, -1, dtype=np.int64)
    found = cells[close]
    top[found[:, 1], found[:, 0]] = np.repeat(thread[owner], close.sum(axis=1))
    return top


def looks(board: Canvas, work: Sewn) -> dict[str, float]:
    """Shares of the artwork that are in its colour and covered, the share of thread outside, and what holds."""
    on = work.stitched
    top = threaded(board, work.moves[on], work.thread[on])
    judged = board.art & (ndimage.distance_transform_edt(~board.border()) > BORDER_MM * board.px)
    near = ndimage.distance_transform_edt(top < 0) <= NEAR_MM * board.px + 0.5
    return {
        "agreement": float((top == board.label)[judged].mean()) if judged.any() else 1.0,
        "covered": float(near[board.art].mean()) if board.art.any() else 1.0,
        "outside": _outside(board, work.moves[on]),
    }


def _outside(board: Canvas, moves: Floats) -> float:
    """Share of thread length farther from the artwork than the spill distance."""
    away = ndimage.distance_transform_edt(~board.art) / board.px
    spots, weight, _ = cut_fine(moves, 0.1)
    cells = np.clip(board.placed(spots).astype(int), 0, np.array(away.shape)[::-1] - 1)
    return float(weight[away[cells[:, 1], cells[:, 0]] > SPILL_MM].sum() / max(weight.sum(), 1e-9))


def cut_fine(moves: Floats, step_mm: float) -> tuple[Floats, Floats, Ints]:
    """Places along ``moves`` at most ``step_mm`` apart, the length that each stands for, and whose it is."""
    lengths = np.hypot(*(moves[:, 1] - moves[:, 0]).T)
    count = np.maximum(1, np.ceil(lengths / step_mm)).astype(int)
    owner = np.repeat(np.arange(len(moves)), count)
    share = (np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count) + 0.5) / count[owner]
    spots = moves[owner, 0] + (moves[owner, 1] - moves[owner, 0]) * share[:, None]
    return spots, lengths[owner] / count[owner], owner


def gap_after_pull(board: Canvas, work: Sewn, pull_mm: float) -> float:
    """Fabric in sight, mm², within 1 mm of where two colours meet, once each turn is drawn in by ``pull_mm``.

    A needle point where the thread turns back is drawn towards where it came from and goes to (common practice,
    no source; a model for comparing plans only).
    """
    on = work.stitched
    moves = work.moves.copy()
    before = moves[:, 1] - moves[:, 0]
    after = np.vstack([before[1:], np.zeros((1, 2))])
    long = np.minimum(np.hypot(*before.T), np.hypot(*after.T))
    one, other = (_unit(way) for way in (-before, after))
    turn = on & np.append(on[1:], False) & ((one * other).sum(axis=1) > 0.5) & ~work.kind("run", "triple run")
    drawn = np.where(turn, np.minimum(pull_mm, long / 3.0), 0.0)[:, None] * _unit(one + other)
    moves[:, 1] += drawn
    moves[1:, 0] += drawn[:-1]
    lies = threaded(board, moves[on], work.thread[on]) >= 0
    bare = board.art & (ndimage.distance_transform_edt(~lies) > NEAR_MM * board.px + 0.5)
    inner = board.border(inner=True)
    if not inner.any():
        return 0.0
    return float((bare & (ndimage.distance_transform_edt(~inner) < board.px)).sum() / board.px**2)


def _unit(way: Floats) -> Floats:
    return np.asarray(way / np.maximum(np.hypot(*way.T), 1e-9)[:, None])
