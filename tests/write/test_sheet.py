"""The operator's sheet: all that a person at the machine needs, and nothing from outside."""

from __future__ import annotations

import base64
import dataclasses
import re
from html.parser import HTMLParser

import hand_plans
import numpy as np

from pipeline.model import Finding, Pass, points
from pipeline.write.sheet import CAUTIONS, DEFERENCE, sheet_bytes

FINDINGS = (
    Finding("narrow-line", "note", "A line is sewn as a run."),
    Finding("too-large", "error", 'Does not fit <the hoop> & "more".', "r2", (12.0, 4.0)),
)
PLAN = hand_plans.plan(findings=FINDINGS)
PICTURE = b"\x89PNG\r\n\x1a\n not really"
TEXT = sheet_bytes(PLAN, PICTURE).decode()
VOID = {"meta", "img", "link", "br", "hr"}


class Words(HTMLParser):
    """The text of a page, and whether every element is closed."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style":
            self.words.append(data.strip())


def words(text: str) -> list[str]:
    reader = Words()
    reader.feed(text)
    reader.close()
    assert reader.open == []
    return [word for word in reader.words if word]


def test_it_says_what_the_plan_says() -> None:
    found = words(TEXT)
    wanted = [
        "buoy.svg",
        "32.0 × 26.0 mm",
        f"{PLAN.counts.stitches:,}",
        "4.5 min",
        "12.3 m",
        "7.9 m",
        PLAN.price.formula,
        "21.75",
    ]
    wanted += ["firm woven", "tear-away", "40-weight polyester", "75/11", "shop", "crimson", "#f2c230", "2.0"]
    wanted += ["99.1%", "95.0%", "0.6 mm²", "14.2 mm²", *CAUTIONS, DEFERENCE]
    assert [word for word in wanted if word not in found] == []


def test_the_twin_has_a_column_only_if_it_was_sewn() -> None:
    assert "If cut out puzzle-fashion" in words(TEXT)
    alone = words(sheet_bytes(dataclasses.replace(PLAN, cut_out=None), PICTURE).decode())
    assert "If cut out puzzle-fashion" not in alone
    assert "0.6 mm²" in alone
    assert "14.2 mm²" not in alone


def test_findings_stand_with_their_severity_the_gravest_first_and_escaped() -> None:
    found = words(TEXT)
    assert found.index('Does not fit <the hoop> & "more".') < found.index("A line is sewn as a run.")
    assert "<the hoop>" not in TEXT
    assert {"error", "note", "r2", "12.0, 4.0", "too-large"} <= set(found)
    assert "None." in words(sheet_bytes(hand_plans.plan(), PICTURE).decode())


def test_colour_stops_add_up_to_all_stitches() -> None:
    section = TEXT.split("Colour sequence</h2>")[1].split("</table>")[0]
    stops = re.findall(r'<td class="n">(\d+)</td>\s*<td class="n">([\d,]+)</td></tr>', section)
    assert len(stops) == PLAN.counts.colour_changes + 1
    assert sum(int(stitches.replace(",", "")) for _, stitches in stops) == PLAN.counts.stitches
    assert sum(int(trims) for trims, _ in stops) == PLAN.counts.trims


def test_the_picture_is_inside_and_nothing_is_fetched() -> None:
    inlined = re.findall(r'src="data:image/png;base64,([^"]+)"', TEXT)
    assert [base64.b64decode(data) for data in inlined] == [PICTURE]
    assert re.findall(r"https?:|//[a-z]|@import|url\(|<script|<link", TEXT.replace(inlined[0], "")) == []


def test_names_from_the_artwork_cannot_break_the_page() -> None:
    source = dataclasses.replace(PLAN.source, name='<script>alert("x")</script>.svg')
    text = sheet_bytes(dataclasses.replace(PLAN, source=source), PICTURE).decode()
    assert "<script" not in text
    assert source.name in words(text)


def test_a_plan_that_sews_nothing_and_says_little_has_a_sheet_too() -> None:
    sewing = dataclasses.replace(PLAN.sewing, passes=(), colours=())
    bare = dataclasses.replace(PLAN, sewing=sewing, spools=(), settings={"fabric": "felt"})
    assert "not given" in words(sheet_bytes(bare, PICTURE).decode())


def test_many_regions_in_one_stop_are_cut_short() -> None:
    spot = points(np.array([hand_plans.CENTRE]))
    steps = tuple(Pass(0, f"r{i}", f"r{i}.1", "cover", "trim" if i else "colour", spot) for i in range(20))
    plan = dataclasses.replace(PLAN, sewing=dataclasses.replace(PLAN.sewing, passes=steps))
    assert "r11 and 8 more" in sheet_bytes(plan, PICTURE).decode()
