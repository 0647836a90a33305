"""Steps → Blocks: each part as needle points."""

from pipeline.stitch.sew import StitchSettings, sew

__all__ = ["StitchSettings", "sew"]
