"""Which files a batch finds, and what it calls their results."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from pipeline.batch.search import find


def touch(folder: Path, *names: str) -> None:
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()


def test_folders_are_searched_for_both_endings_in_any_case(tmp_path: Path) -> None:
    touch(tmp_path, "b.svg", "a.SVG", "deep/er/c.svgz", "d.png", "e.svg.txt", "svg")
    assert [job.name.as_posix() for job in find([tmp_path])] == ["a.SVG", "b.svg", "deep/er/c.svgz"]


def test_order_does_not_depend_on_the_order_of_the_paths(tmp_path: Path) -> None:
    touch(tmp_path, "x/b.svg", "y/a.svg", "y/c.svg")
    one, other = find([tmp_path / "x", tmp_path / "y"]), find([tmp_path / "y", tmp_path / "x"])
    assert [job.name.name for job in one] == ["a.svg", "b.svg", "c.svg"]
    assert one == other


def test_a_file_given_by_name_goes_straight_into_the_output_folder(tmp_path: Path) -> None:
    touch(tmp_path, "deep/a.svg")
    (job,) = find([tmp_path / "deep" / "a.svg"])
    assert (job.target, job.refusal) == ("a", None)


def test_the_same_file_twice_is_one_job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    touch(tmp_path, "a.svg")
    monkeypatch.chdir(tmp_path)
    (job,) = find([tmp_path, tmp_path / "a.svg", Path("."), Path("a.svg")])
    assert job.refusal is None


@pytest.mark.parametrize(("first", "second"), [("x/a.svg", "x/a.svgz"), ("x/a.svg", "y/a.svg")])
def test_two_files_of_one_name_the_second_is_refused(tmp_path: Path, first: str, second: str) -> None:
    touch(tmp_path, first, second, "x/b.svg")
    jobs = find([tmp_path / "x", tmp_path / "y"] if second.startswith("y") else [tmp_path / "x"])
    refused = [job for job in jobs if job.refusal]
    assert [job.source for job in refused] == [tmp_path / second]
    assert str(tmp_path / first) in str(refused[0].refusal)
    assert len(jobs) == 3


def test_nothing_may_take_the_gallerys_place(tmp_path: Path) -> None:
    touch(tmp_path, "index.svg", "deep/index.svg")
    refused = {job.name.as_posix(): job.refusal for job in find([tmp_path])}
    assert "index.html" in str(refused["index.svg"])
    assert refused["deep/index.svg"] is None


def test_a_folder_without_artwork_says_so(tmp_path: Path) -> None:
    touch(tmp_path, "full/a.svg", "empty/notes.txt")
    found = {job.name.name: job.refusal for job in find([tmp_path / "full", tmp_path / "empty"])}
    assert found["a.svg"] is None
    assert found["empty"] == "The folder holds no SVG file (*.svg or *.svgz)."


def test_links_to_folders_are_not_followed(tmp_path: Path) -> None:
    touch(tmp_path, "in/a.svg")
    (tmp_path / "in" / "loop").symlink_to(tmp_path / "in", target_is_directory=True)
    assert [job.name.as_posix() for job in find([tmp_path / "in"])] == ["a.svg"]


@pytest.mark.skipif(os.name != "posix", reason="only there can a name be any bytes")
def test_a_name_that_is_no_utf_8_is_refused(tmp_path: Path) -> None:
    with open(os.path.join(os.fsencode(tmp_path), b"caf\xe9.svg"), "wb"):
        pass
    (job,) = find([tmp_path])
    assert (str(job.name), job.refusal) == ("caf?.svg", "The file's name is not valid UTF-8. Rename it.")


def test_a_folder_that_cannot_be_listed_is_said_to_be(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    touch(tmp_path, "a.svg", "shut/b.svg")
    scandir = os.scandir

    def guarded(path: str) -> object:
        if Path(path).name == "shut":
            raise PermissionError(13, "Permission denied", str(path))
        return scandir(path)

    monkeypatch.setattr(os, "scandir", guarded)
    found = {job.name.name: job.refusal for job in find([tmp_path])}
    assert found == {"a.svg": None, "shut": "The folder cannot be listed: Permission denied."}
