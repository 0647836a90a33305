"""Regions → Surfaces: what lies on what, foundation or none, thinning, angles. Decisions, no stitches."""

from typing import TYPE_CHECKING

from pipeline.lazy import lazily

if TYPE_CHECKING:
    from pipeline.roles.assign import assign as assign

lazily(
    __name__,
    assign="assign",
)
