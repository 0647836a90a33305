"""Blocks → Sewing: moves between blocks, trims, locks, and the machine's grid."""

from typing import TYPE_CHECKING

from pipeline.lazy import lazily

if TYPE_CHECKING:
    from pipeline.tie.join import join as join

lazily(
    __name__,
    join="join",
)
