"""Regions → Surfaces: what lies on what, foundation or none, thinning, angles. Decisions, no stitches."""
