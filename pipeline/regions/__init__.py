"""Drawing → Regions: what is sewn at which height, each kept whole beneath what lies on it."""

from typing import TYPE_CHECKING

from pipeline.lazy import lazily

if TYPE_CHECKING:
    from pipeline.regions.stack import cut_out as cut_out, stack as stack

lazily(
    __name__,
    stack="cut_out stack",
)
