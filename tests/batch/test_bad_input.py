"""Hostile and broken files, whole: each gets one clear sentence, and the good file among them its results."""

from __future__ import annotations

import gzip

import pytest

from pipeline.batch.convert import convert_all
from pipeline.batch.report import Report
from pipeline.settings import Settings

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
SIZED = f'{HEAD} width="12mm" height="8mm" viewBox="0 0 12 8">'
BOAT = '<path id="boat" fill="#1e3cc8" d="M1 1L11 4L1 7Z"/>'
LOL = "".join(f'<!ENTITY a{k} "{f"&a{k - 1};" * 10}">' for k in range(1, 10))

FAILS: dict[str, str | bytes] = {
    "empty.svg": "",
    "spaces.svg": "  \n ",
    "not-xml.svg": "The tide is out.",
    "cut-short.svg": SIZED + "<path d='M0 0",
    "not-svg.svg": "<html><body/></html>",
    "binary.svg": bytes(range(256)) * 20,
    "entity-bomb.svg": f'<!DOCTYPE svg [<!ENTITY a0 "ahoy">{LOL}]>{SIZED}<text>&a9;</text></svg>',
    "outside-entity.svg": f'<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>{SIZED}<text>&x;</text></svg>',
    "nothing-painted.svg": SIZED + '<path fill="none" d="M1 1L11 4L1 7Z"/></svg>',
    "zero-size.svg": f'{HEAD} width="0" height="0">{BOAT}</svg>',
    "deep.svg": SIZED + "<g>" * 5000 + BOAT + "</g>" * 5000 + "</svg>",
    "half-packed.svgz": gzip.compress((SIZED + BOAT + "</svg>").encode())[:60],
}
CONVERTS = {
    "good.svg": SIZED + BOAT + "</svg>",
    "no-viewbox.svg": f'{HEAD} width="12mm" height="8mm"><path fill="#1e3cc8" d="M4 4L40 15L4 26Z"/></svg>',
    "broken-path.svg": SIZED + BOAT + '<path d="M2 2L oops"/></svg>',
    "endless-use.svg": SIZED + BOAT + '<g id="a"><use xlink:href="#a"/></g></svg>',
    "not-packed.svgz": SIZED + BOAT + "</svg>",
    "not-a-number.svg": SIZED + BOAT + '<rect x="NaN" y="1" width="3" height="3"/></svg>',
}
EITHER = {
    "huge-number.svg": SIZED + BOAT + '<path d="M1e300 1L1e300 4L1 7Z"/></svg>',
    "larger-than-hoop.svg": f'{HEAD} width="500mm" height="20mm" viewBox="0 0 500 20">'
    '<path fill="#1e3cc8" d="M0 9H500V11H0Z"/></svg>',
}


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Report:
    """All of them in one batch."""
    folder = tmp_path_factory.mktemp("bad")
    for name, content in {**FAILS, **CONVERTS, **EITHER}.items():
        (folder / name).write_bytes(content.encode() if isinstance(content, str) else content)
    return convert_all([folder], tmp_path_factory.mktemp("out"), Settings(), 2)


@pytest.mark.parametrize("name", FAILS)
def test_a_broken_file_fails_with_one_sentence(report: Report, name: str) -> None:
    (row,) = [row for row in report.rows if row.name == name]
    assert row.status == "failed"
    assert row.reason.endswith(".")
    assert "\n" not in row.reason
    assert len(row.reason) < 250
    assert "fault in plystitch" not in row.reason
    assert "process" not in row.reason  # it was refused, not killed


@pytest.mark.parametrize("name", CONVERTS)
def test_what_can_be_sewn_of_an_odd_file_is(report: Report, name: str) -> None:
    (row,) = [row for row in report.rows if row.name == name]
    assert (row.status, row.reason) == ("converted", "")
    assert row.stitches > 50


@pytest.mark.parametrize("name", EITHER)
def test_no_file_is_our_fault(report: Report, name: str) -> None:
    (row,) = [row for row in report.rows if row.name == name]
    assert "fault in plystitch" not in row.reason
    assert row.findings > 0 or row.reason
