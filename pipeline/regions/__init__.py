"""Drawing → Regions: what is sewn at which height, each kept whole beneath what lies on it."""

from pipeline.regions.stack import cut_out, stack

__all__ = ["cut_out", "stack"]
