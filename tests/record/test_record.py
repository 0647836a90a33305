"""No recorded design gets worse. ``python tests/record/record.py --accept`` takes what got better."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from record import ALLOWED, ARTWORK, SETS, Measures, measured, recorded, worse

from pipeline.model import Plan
from pipeline.write.plan import plan_document

Converted = Callable[..., tuple[object, Path, list[Path]]]
REMEDY = "if this is meant: python tests/record/record.py --accept, and look at the diff of recorded.json"


def refuse(troubles: dict[str, list[str]]) -> None:
    """Fail with all that got worse."""
    told = "\n".join(f"{name}\n    " + "\n    ".join(lines) for name, lines in troubles.items() if lines)
    if told:
        pytest.fail(f"worse than recorded:\n{told}\n{REMEDY}", pytrace=False)


@pytest.mark.parametrize("path", sorted(ARTWORK.glob("*.svg")), ids=lambda path: path.stem)
def test_no_design_of_ours_gets_worse(path: Path, demo: Callable[[str], Plan]) -> None:
    name = f"artwork/{path.stem}"
    document = json.loads(json.dumps(plan_document(demo(path.stem))))
    refuse({name: worse(recorded()[name], measured(document, path))})


@pytest.mark.parametrize("name", SETS)
def test_no_design_of_a_set_gets_worse(name: str, converted: Converted) -> None:
    record = recorded()
    _, folder, files = converted(name, *SETS[name])
    known = [path for path in files if f"{name}/{path.stem}" in record]
    assert len(known) >= min(len(files), SETS[name][1])
    refuse({f"{name}/{path.stem}": worse(record[f"{name}/{path.stem}"], _made(path, folder)) for path in known})


def _made(path: Path, folder: Path) -> Measures:
    found = list(folder.rglob(f"{path.stem}.plan.json"))
    return measured(json.loads(found[0].read_text()), path) if found else {}


def test_the_record_knows_every_measure() -> None:
    assert len(recorded()) >= 40
    for name, measures in recorded().items():
        assert [key for key in ALLOWED if key in measures] == list(measures), name
        assert set(ALLOWED) - set(measures) <= {"kinds"}, name
        assert ("kinds" in measures) == name.startswith("words/")


def test_designs_of_ours_are_recorded_as_like_their_artwork() -> None:
    """What is recorded holds in each run, within its allowance; so these bars do."""
    ours = {name: found for name, found in recorded().items() if name.startswith("artwork/")}
    assert len(ours) >= 12
    for name, found in ours.items():
        assert found["agreement"] >= 0.95, name
        assert found["covered"] >= (0.90 if name.endswith("/small-lettering") else 0.97), name
        assert found["outside"] <= 0.005, name
