"""Parts → Steps: the sewing order, and where the thread comes in and leaves each part."""

from pipeline.steps.arrange import arrange

__all__ = ["arrange"]
