"""The craft value for tests: the defaults, on another fabric, or with some of the fabric's values changed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from pipeline.craft import Craft
from pipeline.model import Fabric, Machine, Thread
from pipeline.settings import Settings


def craft(
    fabric: Fabric | None = None, thread: Thread | None = None, machine: Machine | None = None, **fabric_values: Any
) -> Craft:
    """The default craft with what is given instead of its own; ``fabric_values`` change some of fabric's."""
    default = Settings()
    changed = replace(
        default,
        fabric=replace(fabric or default.fabric, **fabric_values),
        thread=thread or default.thread,
        machine=machine or default.machine,
    )
    return changed.craft


CRAFT = craft()
