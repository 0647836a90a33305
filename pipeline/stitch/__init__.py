"""Steps → Blocks: each part as needle points."""

from typing import TYPE_CHECKING

from pipeline.lazy import lazily

if TYPE_CHECKING:
    from pipeline.stitch.sew import StitchSettings as StitchSettings, sew as sew

lazily(
    __name__,
    sew="StitchSettings sew",
)
