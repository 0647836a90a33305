"""Parts → Steps: the sewing order, and where the thread comes in and leaves each part."""

from typing import TYPE_CHECKING

from pipeline.lazy import lazily

if TYPE_CHECKING:
    from pipeline.steps.arrange import arrange as arrange

lazily(
    __name__,
    arrange="arrange",
)
