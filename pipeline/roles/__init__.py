"""Regions → Surfaces: what lies on what, foundation or none, thinning, angles. Decisions, no stitches."""

from pipeline.roles.assign import assign

__all__ = ["assign"]
