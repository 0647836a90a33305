"""A drawing fitted into the hoop fills it, with the room to spare, whatever the machine and the drawing's form."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from pipeline import flow
from pipeline.model import Machine
from pipeline.recipes import MACHINES
from pipeline.settings import Settings


@pytest.mark.parametrize("form", [(100, 20), (100, 60), (60, 100), (20, 100)], ids=str)
@pytest.mark.parametrize("machine", MACHINES, ids=lambda machine: machine.name)
def test_what_is_fitted_fills_the_hoop_and_stays_inside(
    machine: Machine, form: tuple[int, int], tmp_path: Path
) -> None:
    wide, high = form
    path = tmp_path / "buoys.svg"
    path.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}"><rect width="1" height="1"/>'
        f'<rect x="{wide - 1}" y="{high - 1}" width="1" height="1"/></svg>'
    )
    settings = Settings()
    plan = flow.convert(path, replace(settings, machine=machine, read=replace(settings.read, fit_to_hoop=True)))
    spare = settings.measure.hoop_spare_mm
    over_wide, over_high = (
        plan.counts.width_mm - machine.hoop_width_mm,
        plan.counts.height_mm - machine.hoop_height_mm,
    )
    assert max(over_wide, over_high) == pytest.approx(-spare, abs=1.0)
    assert max(over_wide, over_high) <= -spare
    assert "larger-than-hoop" not in {finding.code for finding in plan.findings}
