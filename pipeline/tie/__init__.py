"""Blocks → Sewing: moves between blocks, trims, locks, and the machine's grid."""

from pipeline.tie.join import join

__all__ = ["join"]
