"""A room that fails for one region, whatever the reason, costs that region and nothing else."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from pipeline import check, flow
from pipeline.errors import ArtworkError, BrokenPromiseError, OverlayError
from pipeline.losses import LostError, each, leaving_out
from pipeline.model import Finding, Note, Part, Surface
from pipeline.read.reading import read_drawing
from pipeline.regions.stack import stack
from pipeline.settings import Settings

ART = """<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">
<path id="hull" fill="#204060" fill-rule="evenodd" d="M2 2h56v36h-56zM40 25h6v6h-6z"/>
<rect id="deck" fill="#d0a040" x="10" y="8" width="24" height="24"/>
<rect id="hatch" fill="#a02020" x="16" y="14" width="4" height="10"/>
<rect id="hold" fill="#309050" x="20" y="14" width="9" height="10"/>
<rect id="port" fill="#a02020" x="40" y="25" width="6" height="6"/>
<rect id="lamp" fill="#f0f0e0" x="44" y="6" width="8" height="8" opacity="0.5"/>
</svg>"""
ELEMENTS = {"hull", "deck", "hatch", "hold", "port", "lamp"}
WORK = [
    "regions.stack:_region",
    "regions.merge:_one",
    "regions.restore:_Pile.close",
    "regions.sight:multipolygon",
    "regions.settle:_beneath",
    "regions.joins:_reached",
    "roles.hidden:opened",
    "roles.support:opened",
    "roles.support:_lies",
    "roles.thinning:_Pile.thin",
    "roles.assign:_surface",
    "split.parts:_parts",
    "steps.units:_unit",
    "steps.arrange:gates",
    "steps.arrange:walked",
    "stitch.sew:_laid",
    "tie.join:move",
    "tie.join:_block",
]
"""What each room does for one region, part or step."""
STRANDS = "stitch.sew:_laid"


@dataclass(frozen=True)
class Made:
    """What is sewn of a drawing, and what was told."""

    surfaces: tuple[Surface, ...]
    parts: tuple[Part, ...]
    findings: list[Finding]

    @property
    def elements(self) -> set[str]:
        return {surface.region.element for surface in self.surfaces}

    @property
    def lost(self) -> list[Finding]:
        return [finding for finding in self.findings if finding.code == "region-left-out"]


def sewn(art: Path) -> Made:
    findings: list[Finding] = []
    drawing = read_drawing(art, Settings().read, findings.append)
    layers = stack(drawing, Settings().regions, findings.append)
    surfaces, parts, _ = flow.sew(layers, Settings(), findings.append)
    return Made(surfaces, parts, findings)


@pytest.fixture
def art(tmp_path: Path) -> Path:
    path = tmp_path / "boat.svg"
    path.write_text(ART)
    return path


def fail(patch: pytest.MonkeyPatch, work: str, error: Exception, times: float = 1) -> list[int]:
    """Let ``work`` (module:name) raise ``error`` the first ``times`` times; gives the count of its calls."""
    module, _, name = work.partition(":")
    owner = import_module(f"pipeline.{module}")
    *outer, name = name.split(".")
    for step in outer:
        owner = getattr(owner, step)
    plain: Callable[..., Any] = getattr(owner, name)
    calls = [0]

    def run(*given: Any, **named: Any) -> Any:
        calls[0] += 1
        if calls[0] <= times:
            raise error
        return plain(*given, **named)

    patch.setattr(owner, name, run)
    return calls


@pytest.mark.parametrize("work", WORK)
def test_a_room_that_fails_once_costs_one_region(work: str, art: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    calls = fail(monkeypatch, work, OverlayError("no", (3.0, 4.0)))
    made = sewn(art)
    assert calls[0] > 0, "the fault was never reached: choose other artwork"
    (finding,) = made.lost
    assert (finding.severity, finding.at) == ("error", (3.0, 4.0))
    assert "fault in plystitch" in finding.message
    (gone,) = ELEMENTS - made.elements
    assert finding.message.startswith(f"{gone}, at 3.0, 4.0 mm")
    assert {part.region for part in made.parts} == {surface.region.id for surface in made.surfaces}


@pytest.mark.parametrize("error", [BrokenPromiseError("odd"), ValueError("odd"), IndexError("odd")])
def test_whatever_geometry_makes_of_a_computation_is_told(
    error: Exception, art: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fail(monkeypatch, STRANDS, error)
    (finding,) = sewn(art).lost
    assert "odd" in finding.message
    assert finding.at is not None


@pytest.mark.parametrize("error", [ArtworkError("mend it"), TypeError("a plain fault"), MemoryError()])
def test_other_errors_are_not_caught(error: Exception, art: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fail(monkeypatch, STRANDS, error)
    with pytest.raises(type(error)):
        sewn(art)


def test_reading_leaves_out_what_cannot_be_blended(art: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fail(monkeypatch, "read.blend:_on_top", OverlayError("no", (3.0, 4.0)))
    made = sewn(art)
    (finding,) = made.lost
    assert finding.message.startswith("lamp, at 3.0, 4.0 mm")
    assert made.elements == ELEMENTS - {"lamp"}


@pytest.mark.parametrize("effect", ['clip-path="url(#half)"', 'opacity="0.5"'])
def test_reading_leaves_out_a_group_whose_effect_fails(
    effect: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    art = tmp_path / "boat.svg"
    clip = '<clipPath id="half"><rect width="33" height="40"/></clipPath>'
    art.write_text(ART.replace('<rect id="deck"', f'{clip}<g id="crew" {effect}><rect id="deck"').replace(
        '<rect id="port"', '</g><rect id="port"'
    ))  # fmt: skip
    work = "read.elements:clipped" if "clip" in effect else "read.elements:flattened"
    fail(monkeypatch, work, OverlayError("no", (3.0, 4.0)))
    made = sewn(art)
    (finding,) = [finding for finding in made.findings if finding.code == "element-broken"]
    assert finding.message.startswith("crew: ")
    assert made.elements == {"hull", "port", "lamp"}


def test_what_lay_on_a_lost_region_gets_foundation(art: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from pipeline.split import parts

    plain = parts._parts

    def fails_for_the_hull(surface: Any, *rest: Any) -> Any:
        if surface.region.element == "hull":
            raise OverlayError("no")
        return plain(surface, *rest)

    monkeypatch.setattr(parts, "_parts", fails_for_the_hull)
    plan = flow.convert(art, Settings())
    (finding,) = [finding for finding in plan.findings if finding.code == "region-left-out"]
    assert finding.region == "r1"
    deck = next(surface for surface in plan.surfaces if surface.region.element == "deck")
    assert deck.role == "base"
    assert not deck.foundation.is_empty
    assert plan.checks.covered < 0.7, "the inspection judges by all that was painted"


def test_a_region_without_area_costs_only_itself(art: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from pipeline.regions import joins

    plain = joins._reached

    def shrinks_the_deck_to_nothing(region: Any, *rest: Any) -> Any:
        return replace(region, outline=shapely.MultiPolygon()) if region.element == "deck" else plain(region, *rest)

    monkeypatch.setattr(joins, "_reached", shrinks_the_deck_to_nothing)
    made = sewn(art)
    (finding,) = made.lost
    assert "no valid outline" in finding.message
    assert made.elements == ELEMENTS - {"deck"}


def test_findings_of_a_given_up_attempt_are_not_told_twice(art: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = [finding.message for finding in sewn(art).findings]
    fail(monkeypatch, STRANDS, ValueError("odd"))
    made = sewn(art)
    told = [finding.message for finding in made.findings if finding not in made.lost]
    assert whole
    assert sorted(set(told)) == sorted(told)
    assert set(told) <= set(whole)


def test_a_file_of_which_nothing_is_left_fails_as_ours(art: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fail(monkeypatch, STRANDS, OverlayError("no", (1.0, 2.0)), times=float("inf"))
    with pytest.raises(BrokenPromiseError, match="no"):
        sewn(art)


def test_each_tries_all_and_names_those_that_fail() -> None:
    tried = []

    def work(number: int) -> int:
        tried.append(number)
        return 6 // number

    assert each(list("abc"), (1, 2, 3), work) == [6, 3, 2]
    with pytest.raises(LostError) as caught:
        each(list("abcb"), (1, 0, 3, 0), work)
    assert tried == [1, 2, 3, 1, 0, 3, 0]
    assert list(caught.value.faults) == ["b"]


def test_losses_of_inner_work_keep_their_names() -> None:
    def inner(_: int) -> None:
        each(["r7"], [0], lambda _: 1 // 0)

    with pytest.raises(LostError) as caught:
        each(["r1"], [0], inner)
    assert list(caught.value.faults) == ["r7"]


def test_a_surface_that_breaks_its_promise_is_named(art: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    surfaces = list(sewn(art).surfaces)
    check.surfaces(tuple(surfaces))
    with monkeypatch.context() as patch:  # as GEOS does now and then: a piece of what it grows is lost
        patch.setattr(check.overlay, "buffer", lambda areas, *_, **__: np.full(len(areas), shapely.Point(), object))
        check.surfaces(tuple(surfaces))
    surfaces[1] = replace(surfaces[1], bare=shapely.MultiPolygon([shapely.box(0, 0, 1, 1)]))
    with pytest.raises(LostError, match=r"bare lies outside its outline by 1\.000 mm²") as caught:
        check.surfaces(tuple(surfaces))
    assert list(caught.value.faults) == [surfaces[1].region.id]


def test_of_nested_work_every_failure_is_named_by_its_innermost_region() -> None:
    """What fails before, inside and after a group is told, and all else is tried all the same."""
    tried: list[str] = []

    def one(name: str) -> str:
        tried.append(name)
        if name in ("b", "d", "f"):
            raise ValueError(name)
        return name

    def group(name: str) -> object:
        return each(["c", "d", "e"], ["c", "d", "e"], one) if name == "group" else one(name)

    with pytest.raises(LostError) as caught:
        each(["a", "b", "group", "f"], ["a", "b", "group", "f"], group)
    assert tried == ["a", "b", "c", "d", "e", "f"]
    assert {name: str(fault) for name, fault in caught.value.faults.items()} == {"b": "b", "d": "d", "f": "f"}


def test_of_several_attempts_only_what_the_last_one_noted_is_told() -> None:
    def work(names: Sequence[str], note: Note) -> Sequence[str]:
        note(Finding("made-up", "note", f"of {''.join(names)}"))
        return each(names, names, lambda name: name if name in "ac" else str(1 // 0))

    told: list[Finding] = []
    left = leaving_out(list("abcd"), str, work, told.append, lambda name, _: Finding("made-up", "error", name))
    assert left == ["a", "c"]
    assert [finding.message for finding in told] == ["b", "d", "of ac"]
