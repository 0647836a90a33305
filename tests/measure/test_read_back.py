"""The inspection holds for the machine file: its bytes, read back, are the needle points that were inspected."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from pipeline.measure.inspection import examine
from pipeline.model import Pass, Plan, Sewing, points
from pipeline.settings import Settings
from pipeline.write.machine import machine_bytes, read_machine_file

SETTINGS = Settings()


def read_back(plan: Plan) -> Sewing:
    """The plan's passes with the needle points and approaches of its machine file."""
    file = read_machine_file(machine_bytes(plan))
    spots = np.round(file.points + np.asarray(plan.sewing.centre), 1)
    passes: list[Pass] = []
    at = 0
    for each in plan.sewing.passes:
        end = at + len(each.points)
        assert set(file.approaches[at + 1 : end]) <= {"sewn"}
        passes.append(replace(each, points=points(spots[at:end]), approach=file.approaches[at]))
        at = end
    assert at == len(spots)
    return replace(plan.sewing, passes=tuple(passes))


@pytest.mark.parametrize("name", ["five-deep", "line-art"])
def test_what_the_file_sews_is_what_was_inspected(name: str, demo: Callable[[str], Plan]) -> None:
    plan = demo(name)
    regions = tuple(surface.region for surface in plan.surfaces)
    checks = examine(read_back(plan), regions, SETTINGS.craft, SETTINGS.measure).checks
    assert checks == plan.checks
