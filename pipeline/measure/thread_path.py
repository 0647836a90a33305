"""A sewing as one flat table of stitches: what every measure starts from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.model import Approach, Layer, Points, Sewing

LAYERS: tuple[Layer, ...] = ("foundation", "cover", "travel", "lock")
APPROACHES: tuple[Approach, ...] = ("sewn", "jump", "trim", "colour")
COVER = LAYERS.index("cover")

TURN_COS = 0.5
"""Where the thread bends by more than 60° a row may end: fewer degrees would call the arcs of a run turns, more
would miss turns at outlines that run slantwise to the rows."""


@dataclass(frozen=True, eq=False)
class Path:
    """All needle points in sewing order, ``n`` of them, each with the stitch that leads to it.

    ``points`` ``(n, 2)`` mm; ``start`` ``(n, 2)`` where the stitch (or move) to each point begins; ``layer``
    and ``approach`` index ``LAYERS`` and ``APPROACHES``; ``thread`` indexes the sewing's colours; ``part``
    numbers the parts in the order in which they are first sewn. The approach is that of the pass at its first
    point, else sewn. The very first point begins at itself, and its approach is left out: sewn.
    """

    points: Points
    start: Points
    layer: NDArray[np.intp]
    approach: NDArray[np.intp]
    thread: NDArray[np.intp]
    part: NDArray[np.intp]

    @property
    def sewn(self) -> NDArray[np.bool_]:
        """Which points end a stitch (the first point of all ends none), ``(n,)``."""
        stitch = np.asarray(self.approach == 0)
        stitch[:1] = False
        return stitch

    @property
    def lies(self) -> NDArray[np.bool_]:
        """Which points end a stretch of thread: a stitch, or a jump with the thread uncut, ``(n,)``."""
        return np.asarray(self.sewn | (self.approach == 1))

    @property
    def lengths(self) -> NDArray[np.float64]:
        """From ``start`` to ``points`` in mm, ``(n,)``."""
        return np.asarray(np.hypot(*(self.points - self.start).T))

    @property
    def straight_on(self) -> NDArray[np.bool_]:
        """Whether the stitch to each point goes on from the stitch before it, bending by at most 60°, ``(n,)``."""
        straight = np.zeros(len(self.points), dtype=np.bool_)
        ways, size, sewn = self.points - self.start, self.lengths, self.sewn
        cosine = np.einsum("ij,ij->i", ways[1:], ways[:-1])
        straight[1:] = sewn[1:] & sewn[:-1] & (cosine >= TURN_COS * size[1:] * size[:-1])
        return straight

    @property
    def segments(self) -> NDArray[np.float64]:
        """``start`` and ``points`` as ``(n, 2, 2)``."""
        return np.stack([self.start, self.points], axis=1)


def path(sewing: Sewing) -> Path:
    """The table of ``sewing``."""
    passes = [each for each in sewing.passes if len(each.points)]
    sizes = np.array([len(each.points) for each in passes], dtype=np.intp)
    spots = np.concatenate([each.points for each in passes]) if passes else np.empty((0, 2))
    start = np.concatenate([spots[:1], spots[:-1]])
    approach = np.zeros(len(spots), dtype=np.intp)
    approach[np.cumsum(sizes)[:-1]] = [APPROACHES.index(each.approach) for each in passes[1:]]
    parts: dict[str, int] = {}
    part = [parts.setdefault(each.part, len(parts)) for each in passes]
    return Path(
        points=spots,
        start=start,
        layer=np.repeat(np.array([LAYERS.index(each.layer) for each in passes], dtype=np.intp), sizes),
        approach=approach,
        thread=np.repeat(np.array([each.thread for each in passes], dtype=np.intp), sizes),
        part=np.repeat(np.array(part, dtype=np.intp), sizes),
    )
