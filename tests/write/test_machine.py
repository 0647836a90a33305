"""The machine file: exact there and back, and clear words about a damaged one.

The format itself is common practice, written down from memory: no published standard is known to check against.
"""

from __future__ import annotations

import contextlib
import dataclasses
import re

import hand_plans
import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from pipeline.errors import ArtworkError, BrokenPromiseError
from pipeline.model import Approach, Pass, Plan, points
from pipeline.write.machine import X_TABLE, Y_TABLE, machine_bytes, read_machine_file, ternary_digits

CENTRE = np.array(hand_plans.CENTRE)
PLAN = hand_plans.plan()
STEP = st.tuples(st.integers(-85, 85), st.integers(-85, 85))


def with_passes(*passes: Pass) -> Plan:
    return dataclasses.replace(PLAN, sewing=dataclasses.replace(PLAN.sewing, passes=passes))


def at_units(approach: Approach, *spots: tuple[int, int]) -> Pass:
    """A pass through spots given in units right and down from the origin."""
    return Pass(0, "r1", "r1.1", "cover", approach, points(np.array(spots).reshape(-1, 2) / 10 + CENTRE))


def expected(plan: Plan) -> tuple[np.ndarray, list[str]]:
    """Needle points in units and approaches, straight from the plan."""
    passes = plan.sewing.passes
    spots = np.vstack([step.points for step in passes]) - CENTRE
    names = [name for step in passes for name in (step.approach, *["sewn"] * (len(step.points) - 1))]
    return np.rint(spots * 10).astype(int), names


def records(data: bytes) -> list[bytes]:
    return [data[i : i + 3] for i in range(512, len(data), 3)]


@st.composite
def passes(draw: st.DrawFn) -> list[Pass]:
    found: list[Pass] = []
    at = np.zeros(2, dtype=int)
    for number in range(draw(st.integers(1, 6))):
        approach: Approach = "colour" if number == 0 else draw(st.sampled_from(["sewn", "jump", "trim", "colour"]))
        reach = {"sewn": 85, "jump": 242}.get(approach, 3000)
        reach = 3000 if number == 0 else reach
        small = draw(st.booleans())
        leap = st.integers(-min(reach, 4) if small else -reach, min(reach, 4) if small else reach)
        at = at + np.array([draw(leap), draw(leap)])
        steps = draw(st.lists(STEP, max_size=12))
        spots = np.vstack([at, at + np.cumsum(np.array(steps, dtype=int).reshape(-1, 2), axis=0)])
        found.append(at_units(approach, *map(tuple, spots.tolist())))
        at = spots[-1]
    return found


@settings(max_examples=120, deadline=None)
@given(passes())
def test_any_passes_come_back_exactly(steps: list[Pass]) -> None:
    plan = with_passes(*steps)
    found = read_machine_file(machine_bytes(plan))
    spots, approaches = expected(plan)
    np.testing.assert_array_equal(np.rint(found.points * 10).astype(int), spots)
    np.testing.assert_allclose(found.points * 10, spots, atol=1e-9)
    assert list(found.approaches) == approaches


@settings(max_examples=40, deadline=None)
@given(passes())
def test_the_header_says_what_the_records_do(steps: list[Pass]) -> None:
    plan = with_passes(*steps)
    header = read_machine_file(machine_bytes(plan)).header
    spots, approaches = expected(plan)
    reach = np.vstack([spots, [[0, 0]]])
    assert int(header["ST"]) == len(spots)
    assert int(header["CO"]) == approaches[1:].count("colour")
    assert (int(header["+X"]), int(header["-X"])) == (reach[:, 0].max(), -reach[:, 0].min())
    assert (int(header["+Y"]), int(header["-Y"])) == (-reach[:, 1].min(), reach[:, 1].max())
    assert (int(header["AX"]), int(header["AY"])) == (spots[-1, 0], -spots[-1, 1])


def test_the_header_has_its_512_bytes_and_fields_in_their_places() -> None:
    data = machine_bytes(PLAN)
    header = data[:512]
    text = header.split(b"\x1a")[0].decode("ascii")
    assert re.fullmatch(
        r"LA:.{16}\rST:[ \d]{7}\rCO:[ \d]{3}\r\+X:[ \d]{5}\r-X:[ \d]{5}\r\+Y:[ \d]{5}\r-Y:[ \d]{5}\r"
        r"AX:[+-][ \d]{5}\rAY:[+-][ \d]{5}\rMX:[+-][ \d]{5}\rMY:[+-][ \d]{5}\rPD:\*{6}\r",
        text,
    )
    assert header[len(text)] == 0x1A
    assert set(header[len(text) + 1 :]) == {0x20}
    assert data.endswith(b"\x00\x00\xf3")
    assert len(data) % 3 == 512 % 3


def test_every_move_has_its_own_bits_in_balanced_ternary() -> None:
    for move in range(-121, 122):
        digits = ternary_digits(move)
        assert sum(digits) == move
        assert len({abs(digit) for digit in digits}) == len(digits)
    table = set(X_TABLE.tolist()) | set(Y_TABLE.tolist())
    assert len(table) == 2 * 243 - 1
    assert all(word & 0xC3 == 0 for word in table)


@pytest.mark.parametrize(
    ("move", "record"),
    [
        ((0, 0), "000003"),
        ((1, 0), "010003"),
        ((0, -1), "800003"),  # up
        ((3, 0), "000103"),
        ((9, 9), "140003"),  # right and down
        ((2, 0), "020103"),  # 3 - 1
        ((81, 0), "000007"),
        ((-61, 0), "0a050b"),
    ],
)
def test_known_moves_give_known_records(move: tuple[int, int], record: str) -> None:
    """Worked out by hand from the table in the module's docstring."""
    data = machine_bytes(with_passes(at_units("colour", (0, 0), move)))
    assert records(data)[1].hex() == record


@pytest.mark.parametrize("move", [(0, 0), (1, 0), (-3, -3), (2, -2), (5, 1), (40, 0), (1500, -700), (0, 122)])
def test_a_trim_has_three_jump_records_or_more_and_none_is_empty_where_it_is_short(move: tuple[int, int]) -> None:
    data = machine_bytes(with_passes(at_units("colour", (0, 0)), at_units("trim", move)))
    lead = records(data)[1:-2]
    assert len(lead) >= 3
    assert all(record[2] & 0xC3 == 0x83 for record in lead)
    if max(map(abs, move)) <= 3:
        assert all(record != b"\x00\x00\x83" for record in lead)


@pytest.mark.parametrize(("move", "count"), [((0, 0), 1), ((121, -121), 1), ((122, 0), 2), ((242, 242), 2)])
def test_a_jump_stays_below_three_jump_records(move: tuple[int, int], count: int) -> None:
    data = machine_bytes(with_passes(at_units("colour", (0, 0)), at_units("jump", move)))
    assert len(records(data)[1:-2]) == count


def test_a_colour_change_is_one_stop_record_before_its_jumps() -> None:
    data = machine_bytes(with_passes(at_units("colour", (0, 0)), at_units("colour", (300, 0))))
    assert [record[2] & 0xC3 for record in records(data)[1:-2]] == [0xC3, 0x83, 0x83, 0x83]


def test_stitch_records_are_counted_as_the_plan_counts_stitches() -> None:
    data = machine_bytes(PLAN)
    assert sum(record[2] & 0xC3 == 0x03 for record in records(data)[:-1]) == PLAN.counts.stitches


@pytest.mark.parametrize(
    ("steps", "word"),
    [
        ([at_units("colour", (0, 0), (122, 0))], "12.2 mm"),
        ([at_units("colour", (0, 0), (90, 90))], "12.7 mm"),
        ([at_units("colour", (0, 0)), at_units("sewn", (0, 130))], "13.0 mm"),
        ([at_units("colour", (0, 0)), at_units("jump", (0, 243))], "too long"),
        ([at_units("trim", (0, 0))], "first pass"),
        ([at_units("colour")], "no needle point"),
        ([Pass(0, "r1", "r1.1", "cover", "colour", points([[20.03, 15.0]]))], "grid"),
        ([Pass(0, "r1", "r1.1", "cover", "colour", points([[np.nan, 15.0]]))], "grid"),
    ],
)
def test_what_the_file_cannot_hold_is_a_broken_promise(steps: list[Pass], word: str) -> None:
    with pytest.raises(BrokenPromiseError, match=word):
        machine_bytes(with_passes(*steps))


def test_a_plan_without_a_stitch_is_a_whole_file_too() -> None:
    found = read_machine_file(machine_bytes(with_passes()))
    assert found.points.shape == (0, 2)
    assert found.approaches == ()


def test_a_name_in_any_script_becomes_a_plain_label() -> None:
    source = dataclasses.replace(PLAN.source, name="Möwe & Küste, lang und länger.svg")
    header = read_machine_file(machine_bytes(dataclasses.replace(PLAN, source=source))).header
    assert header["LA"] == "M_we _ K_ste_ la"


WHOLE = machine_bytes(PLAN)


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (b"", "header"),
        (WHOLE[:300], "header"),
        (b"%PDF" + WHOLE[4:], "header"),
        (WHOLE.replace(b"\rCO:", b"\rXX:"), "CO"),
        (WHOLE.replace(b"\rCO:  2", b"\rCO:  x"), "CO is no number"),
        (WHOLE[:-3], "end record"),
        (WHOLE[:-1], "end record"),
        (WHOLE[:512], "end record"),
        (WHOLE[:512] + b"\x00\x00\x00" + WHOLE[515:], "record 1 is of no known kind"),
        (WHOLE[:512] + b"\x00\x00\x43" + WHOLE[515:], "record 1 is of no known kind"),
        (WHOLE[:515] + b"\x03\x00\x03" + WHOLE[518:], "record 2 moves both ways"),
        (WHOLE[:515] + b"\x00\xc0\x03" + WHOLE[518:], "record 2 moves both ways"),
    ],
)
def test_a_damaged_file_is_refused_with_its_damage(data: bytes, word: str) -> None:
    with pytest.raises(ArtworkError, match=word):
        read_machine_file(data)


@settings(max_examples=200, deadline=None)
@given(st.integers(0, len(WHOLE)), st.integers(0, len(WHOLE) - 1), st.integers(0, 255))
def test_no_damage_raises_anything_else(cut: int, place: int, value: int) -> None:
    damaged = bytearray(WHOLE)
    damaged[place] = value
    for data in (bytes(damaged), bytes(damaged[:cut])):
        with contextlib.suppress(ArtworkError):
            read_machine_file(data)


def test_bytes_after_the_end_record_are_ignored() -> None:
    assert len(read_machine_file(WHOLE + b"\x1a" * 7).points) == PLAN.counts.stitches
