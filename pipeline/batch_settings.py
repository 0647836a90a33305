"""What a batch can be told."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.ranges import ranged


@dataclass(frozen=True)
class BatchSettings:
    """How much of the computer one file may take before it is given up."""

    timeout_s: float = ranged(300.0, 0.1, 86400.0, "s", "processor time that one file may take")
    memory_mib: int = ranged(4096, 256, 1048576, "MiB", "address space of the process that converts a file (Linux)")
