"""What a setting may be, kept with its field: lowest and highest value (both allowed), unit, and what it means."""

from __future__ import annotations

from dataclasses import field
from typing import Any, TypeVar

Value = TypeVar("Value")


def within(low: float, high: float, unit: str, meaning: str) -> dict[str, Any]:
    """The range of a setting, as metadata of its field: ``settings`` checks and describes by it."""
    return {"low": low, "high": high, "unit": unit, "meaning": meaning}


def ranged(default: Value, low: float, high: float, unit: str, meaning: str) -> Value:
    """A setting with its default and range."""
    return field(default=default, metadata=within(low, high, unit, meaning))
