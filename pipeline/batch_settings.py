"""What a batch can be told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from pipeline.model import Range


@dataclass(frozen=True)
class BatchSettings:
    """How much of the computer one file may take before it is given up."""

    timeout_s: Annotated[float, Range(0.1, 86400.0, "s", "processor time that one file may take")] = 300.0
    memory_mib: Annotated[
        int, Range(256, 1048576, "MiB", "address space of the process that converts a file (Linux)")
    ] = 4096
