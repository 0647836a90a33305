"""A plan document as arrays of stitches: read by the contract's keys, with nothing of the pipeline's own code."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
LAYERS = ("foundation", "cover", "travel", "lock")
APPROACHES = ("sewn", "jump", "trim", "colour")


@dataclass(frozen=True, eq=False)
class Sewn:
    """Moves ``(n, 2, 2)`` in mm from needle point to needle point, the first from itself, and of each what it is.

    ``layer`` and ``approach`` count through ``LAYERS`` and ``APPROACHES``, ``thread`` through the plan's threads,
    ``part`` through ``parts``: ids, each with its kind.
    """

    moves: Floats
    layer: Ints
    approach: Ints
    thread: Ints
    part: Ints
    parts: tuple[str, ...]
    kinds: tuple[str, ...]

    @property
    def points(self) -> Floats:
        """Every needle penetration, ``(n, 2)``."""
        return self.moves[:, 1]

    @property
    def lengths(self) -> Floats:
        """``(n,)`` mm."""
        return np.asarray(np.hypot(*(self.moves[:, 1] - self.moves[:, 0]).T))

    @property
    def stitched(self) -> Flags:
        """Moves with the needle going down at both ends of an uncut, laid thread."""
        return np.asarray(self.approach == 0)

    def of(self, layer: str) -> Flags:
        """Stitches of one layer."""
        return np.asarray((self.layer == LAYERS.index(layer)) & self.stitched)

    def kind(self, *names: str) -> Flags:
        """Moves of parts of these kinds."""
        return np.isin(np.array([kind in names for kind in self.kinds])[self.part], True)


def sewn(plan: dict[str, Any]) -> Sewn:
    """The stitches of a plan document."""
    parts = [part for region in plan["regions"] for part in region["parts"]]
    number = {part["id"]: k for k, part in enumerate(parts)}
    passes = plan["passes"]
    sizes = [len(item["points"]) for item in passes]
    points = np.vstack([np.asarray(item["points"], dtype=np.float64).reshape(-1, 2) for item in passes])
    approach = np.zeros(len(points), dtype=np.int64)
    approach[np.cumsum([0, *sizes[:-1]])] = [APPROACHES.index(item["approach"]) for item in passes]

    def each(values: list[int]) -> Ints:
        return np.repeat(np.array(values, dtype=np.int64), sizes)

    return Sewn(
        np.stack([np.vstack([points[:1], points[:-1]]), points], axis=1),
        each([LAYERS.index(item["layer"]) for item in passes]),
        approach,
        each([item["thread"] for item in passes]),
        each([number[item["part"]] for item in passes]),
        tuple(part["id"] for part in parts),
        tuple(part["kind"] for part in parts),
    )
