"""A sample of the fuzz of ``tests/bench/fuzz_reading.py``: only ``ArtworkError`` may come out."""

from __future__ import annotations

import importlib.util
from pathlib import Path


def test_mutated_documents_are_read_or_refused() -> None:
    spec = importlib.util.spec_from_file_location(
        "fuzz_reading", Path(__file__).parents[1] / "bench" / "fuzz_reading.py"
    )
    assert spec is not None
    assert spec.loader is not None
    fuzz = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(fuzz)
    read, refused, slowest, faults = fuzz.run(200, seed=7)
    assert faults == []
    assert read > 25
    assert refused > 10
    assert slowest < 10
