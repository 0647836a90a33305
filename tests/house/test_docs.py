"""What the documents say and a machine can check."""

from __future__ import annotations

import ast
import re
import tomllib
from pathlib import Path

import pytest
from wrapping import PAGES, WIDTH, wrapped

from pipeline.recipes import FABRICS, MACHINES, THREADS
from pipeline.settings import describe, from_document

PROJECT = Path(__file__).parents[2]
README = (PROJECT / "README.md").read_text()
DEVELOPERS = (PROJECT / "DEVELOPERS.md").read_text()
SEVERITIES = {"note", "warning", "error"}
CODE = re.compile(r"[a-z]+(-[a-z]+)+")


def codes_in_source() -> set[str]:
    """First arguments of calls whose second is a severity: that is how every finding is made."""
    found = set()
    for file in (PROJECT / "pipeline").rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text())):
            if isinstance(node, ast.Call) and len(node.args) >= 2:
                code, severity = (a.value if isinstance(a, ast.Constant) else None for a in node.args[:2])
                if isinstance(code, str) and severity in SEVERITIES and CODE.fullmatch(code):
                    found.add(code)
    return found


def test_every_finding_is_listed_and_none_that_is_not_made() -> None:
    section = DEVELOPERS.split("## Findings")[1]
    listed = set(re.findall(r"^\* `([a-z-]+)` \(", section, re.MULTILINE))
    assert listed == codes_in_source()


def test_readme_begins_with_the_job_in_one_paragraph() -> None:
    title, job, *_ = README.split("\n\n")
    assert title == "# plystitch"
    assert "SVG" in job
    assert "machine file" in job


@pytest.mark.parametrize("item", [*FABRICS, *THREADS, *MACHINES], ids=lambda item: item.name)
def test_everything_chosen_by_name_is_in_the_readme(item: object) -> None:
    assert f"`{item.name}`" in README  # type: ignore[attr-defined]


def test_readme_settings_example_loads() -> None:
    example = README.split("```toml\n")[1].split("```")[0]
    assert from_document(tomllib.loads(example)).fabric.name == "club jersey"


def test_settings_named_in_the_readme_exist() -> None:
    keys = {item.key.split(".")[-1] for item in describe()} | {"row_mm", "pitch_mm", "pull_mm"}
    assert set(re.findall(r"`([a-z_]+_mm)`", README)) <= keys


def test_gate_calls_the_readmes_test_command() -> None:
    commands = re.findall(r"```sh\n(python3 -m venv.*)\n```", README)
    assert len(commands) == 2
    assert commands[1] in (PROJECT / ".ci" / "run").read_text()


def test_rooms_table_is_the_folder_listing() -> None:
    table = DEVELOPERS.split("## Rooms")[1].split("Around them")[0]
    rooms = re.findall(r"^\| `([a-z]+)` \|", table, re.MULTILINE)
    around = {"geometry", "sequence", "measure", "batch"}
    folders = sorted(p.parent.name for p in (PROJECT / "pipeline").glob("*/__init__.py"))
    assert rooms == [name for name in folders if name not in around]


def test_every_dependency_has_its_reason() -> None:
    listed = tomllib.loads((PROJECT / "pyproject.toml").read_text())["project"]
    named = [re.split(r"[<>=\[]", item)[0] for item in listed["dependencies"]]
    named += [re.split(r"[<>=\[]", item)[0] for item in listed["optional-dependencies"]["test"]]
    table = DEVELOPERS.split("## Dependencies")[1].split("##")[0]
    assert [name for name in named if name not in table] == []


def test_readmes_pictures_exist() -> None:
    pictures = re.findall(r"!\[[^\]]*\]\(([^)]+)\)", README + DEVELOPERS)
    assert len(pictures) >= 6
    for picture in pictures:
        assert (PROJECT / picture).is_file(), picture


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_prose_has_one_wrap_width(page: Path) -> None:
    assert page.read_text() == wrapped(page.read_text()), "run python tests/house/wrapping.py"
    assert max(map(len, page.read_text().splitlines())) <= WIDTH


def test_other_widths_are_noticed() -> None:
    assert wrapped("short\nlines\n") == "short lines\n"
    assert max(map(len, wrapped("* " + "word " * 60).splitlines())) <= WIDTH


def test_top_level_is_as_agreed() -> None:
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "pipeline", "tests", "artwork", "out", "LICENSE"}
    allowed |= {"CHANGELOG.md", "plystitch.egg-info", "build"}
    extra = {p.name for p in PROJECT.iterdir() if not p.name.startswith(".")} - allowed
    assert extra == set()
