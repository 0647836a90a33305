"""Four files, whole or none."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import hand_plans
import pytest

from pipeline.errors import BrokenPromiseError
from pipeline.write import files
from pipeline.write.files import write_files
from pipeline.write.settings import WriteSettings
from pipeline.write.whole import write_whole

PLAN = hand_plans.plan()
COARSE = WriteSettings(picture_px_per_mm=2, picture_detail=1)
FOUR = ["buoy.dst", "buoy.html", "buoy.plan.json", "buoy.png"]


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_all_four_are_written_and_nothing_else(tmp_path: Path) -> None:
    write_files(PLAN, tmp_path / "a" / "b", "buoy", COARSE)
    assert names(tmp_path / "a" / "b") == FOUR
    assert json.loads((tmp_path / "a/b/buoy.plan.json").read_bytes())["format"] == "plystitch-plan"


def test_a_stem_with_dots_keeps_them(tmp_path: Path) -> None:
    write_files(PLAN, tmp_path, "pier.v1.2", COARSE)
    assert "pier.v1.2.dst" in names(tmp_path)


def test_writing_again_gives_the_same_bytes(tmp_path: Path) -> None:
    for folder in ("one", "two", "two"):
        write_files(PLAN, tmp_path / folder, "buoy", COARSE)
    for name in FOUR:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


def test_a_failure_while_writing_leaves_the_old_files_and_no_part(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_files(PLAN, tmp_path, "buoy", COARSE)
    before = {name: (tmp_path / name).read_bytes() for name in FOUR}
    monkeypatch.setattr(files, "sheet_bytes", lambda plan, picture: "not bytes")
    with pytest.raises(TypeError):
        write_files(PLAN, tmp_path, "buoy", WriteSettings(picture_px_per_mm=3))
    assert {name: (tmp_path / name).read_bytes() for name in names(tmp_path)} == before


def test_a_file_that_cannot_take_its_place_takes_the_others_back(tmp_path: Path) -> None:
    """A folder stands where the last file belongs: none of the four may be new."""
    (tmp_path / "buoy.html" / "inside").mkdir(parents=True)
    (tmp_path / "buoy.dst").write_bytes(b"old")
    with pytest.raises(OSError, match=r"buoy\.html"):
        write_files(PLAN, tmp_path, "buoy", COARSE)
    assert names(tmp_path) == ["buoy.dst", "buoy.html"]
    assert (tmp_path / "buoy.dst").read_bytes() == b"old"


def test_a_folder_that_cannot_be_made_is_an_os_error(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(OSError, match="taken"):
        write_files(PLAN, tmp_path / "taken" / "below", "buoy", COARSE)


def test_write_whole_takes_any_files(tmp_path: Path) -> None:
    write_whole({tmp_path / "x" / "one": b"1", tmp_path / "two": b"2"})
    assert (tmp_path / "x" / "one").read_bytes() == b"1"


def test_a_machine_file_that_differs_from_the_plan_is_not_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = dataclasses.replace(PLAN, sewing=dataclasses.replace(PLAN.sewing, passes=PLAN.sewing.passes[:-1]))
    wrong = files.machine_bytes(other)
    monkeypatch.setattr(files, "machine_bytes", lambda plan: wrong)
    with pytest.raises(BrokenPromiseError, match="read back"):
        write_files(PLAN, tmp_path, "buoy", COARSE)
    assert names(tmp_path) == []


@pytest.mark.parametrize("name", ["stitches", "jumps", "trims", "colour_changes"])
def test_counts_that_the_machine_file_does_not_have_are_refused(tmp_path: Path, name: str) -> None:
    wrong = dataclasses.replace(PLAN.counts, **{name: getattr(PLAN.counts, name) + 1})
    with pytest.raises(BrokenPromiseError, match="counts"):
        write_files(dataclasses.replace(PLAN, counts=wrong), tmp_path, "buoy", COARSE)
    assert names(tmp_path) == []
