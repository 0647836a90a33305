"""Batches in which files crash, hang and complain."""

from __future__ import annotations

import csv
import json
import multiprocessing
import os
from dataclasses import replace
from pathlib import Path

import pytest
from batch_fakes import convert

from pipeline.batch.convert import OutputError, Progress, convert_all
from pipeline.batch.report import Report
from pipeline.batch_settings import BatchSettings
from pipeline.settings import Settings

ENDINGS = (".plan.json", ".dst", ".png", ".html")


def lay(folder: Path, **words: str) -> Path:
    """A folder of files: name to what it does."""
    for name, word in words.items():
        path = folder / name.replace("__", "/")
        path = path.with_name(path.name + ".svg")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(word, encoding="utf-8")
    return folder


def run(folder: Path, out: Path, workers: int = 1, timeout_s: float = 60.0, memory_mib: int = 2048) -> Report:
    settings = replace(Settings(), batch=BatchSettings(timeout_s, memory_mib))
    return convert_all([folder], out, settings, workers, convert=convert)


def outcome(report: Report) -> dict[str, str]:
    return {row.name: row.status for row in report.rows}


def test_all_files_are_written_where_they_belong(tmp_path: Path) -> None:
    report = run(lay(tmp_path / "in", tern="ok", boats__ferry="ok", boats__old__kelp="ok"), tmp_path / "out")
    assert outcome(report) == dict.fromkeys(["boats/ferry.svg", "boats/old/kelp.svg", "tern.svg"], "converted")
    assert (report.converted, report.failed, report.exit_status) == (3, 0, 0)
    for name in ("tern", "boats/ferry", "boats/old/kelp"):
        for ending in ENDINGS:
            assert (tmp_path / "out" / (name + ending)).stat().st_size > 0
    assert (tmp_path / "out" / "index.html").stat().st_size > 0
    row = report.rows[0]
    assert (row.stitches, row.colours, row.findings, row.warnings, row.width_mm) == (102, 1, 1, 1, 10.0)
    assert row.price == 20.1


def test_summary_has_every_row(tmp_path: Path) -> None:
    run(lay(tmp_path / "in", tern="ok", crab="artwork"), tmp_path / "out")
    with (tmp_path / "out" / "summary.csv").open(encoding="utf-8", newline="") as file:
        rows = {row["name"]: row for row in csv.DictReader(file)}
    assert rows["crab.svg"]["reason"] == "svg/path[1]: its fill is a picture; give it a colour."
    assert rows["tern.svg"]["stitches"] == "102"
    found = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
    assert (found["converted"], found["failed"]) == (1, 1)


@pytest.mark.parametrize("workers", [1, 2])
def test_whatever_happens_in_one_file_the_others_are_written(tmp_path: Path, workers: int) -> None:
    words = {"a1": "ok", "b": "crash", "c": "kill", "d": "artwork", "e": "promise", "f": "surprise", "g1": "ok"}
    words |= {"h": "memory", "i": "hang", "j1": "ok", "k": "spin"}
    report = run(lay(tmp_path / "in", **words), tmp_path / "out", workers, timeout_s=0.7)
    expected = {f"{name}.svg": "converted" if name.endswith("1") else "failed" for name in words}
    assert list(outcome(report).items()) == sorted(expected.items())
    assert report.exit_status == 1
    reasons = {row.name[0]: row.reason for row in report.rows}
    assert "exit status 3" in reasons["b"]
    assert "SIGKILL" in reasons["c"]
    assert "not in the artwork: a part without area" in reasons["e"]
    assert "not in the artwork: ZeroDivisionError: by zero" in reasons["f"]
    assert "2048 MiB" in reasons["h"]
    assert reasons["i"] == "It hung for 7 s and was given up."
    assert reasons["k"] == "It took longer than 0.7 s on the processor and was given up."
    assert not list((tmp_path / "out").glob("*.part"))
    details = {path.name for path in (tmp_path / "out").glob("*.error.txt")}
    assert details == {"e.error.txt", "f.error.txt"}
    assert "ZeroDivisionError" in (tmp_path / "out" / "f.error.txt").read_text(encoding="utf-8")


def test_results_of_an_earlier_run_are_kept_and_said_to_be_old(tmp_path: Path) -> None:
    """Nobody should sew them for the new drawing, nor lose them to a slip of the pen."""
    folder = lay(tmp_path / "in", tern="ok")
    run(folder, tmp_path / "out")
    before = (tmp_path / "out" / "tern.dst").read_bytes()
    lay(folder, tern="artwork", crab="artwork")
    rows = {row.name: row for row in run(folder, tmp_path / "out").rows}
    assert "earlier run are still in" in rows["tern.svg"].reason
    assert "earlier run" not in rows["crab.svg"].reason
    assert (tmp_path / "out" / "tern.dst").read_bytes() == before


def test_details_of_a_fault_go_once_the_file_converts(tmp_path: Path) -> None:
    run(lay(tmp_path / "in", a="surprise"), tmp_path / "out")
    assert (tmp_path / "out" / "a.error.txt").exists()
    run(lay(tmp_path / "in", a="ok"), tmp_path / "out")
    assert not (tmp_path / "out" / "a.error.txt").exists()


def test_what_a_dead_process_left_half_written_is_removed(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "a.dst.part").write_bytes(b"half")
    run(lay(tmp_path / "in", a="crash"), tmp_path / "out")
    assert not (tmp_path / "out" / "a.dst.part").exists()


def test_one_worker_and_two_write_the_same_bytes(tmp_path: Path) -> None:
    folder = lay(tmp_path / "in", **{f"boat{number}": "ok" for number in range(5)})
    for workers in (1, 2):
        run(folder, tmp_path / str(workers), workers)
    names = sorted(
        path.name for path in (tmp_path / "1").iterdir() if not path.name.startswith(("summary", "index"))
    )
    assert len(names) == 5 * len(ENDINGS)
    for name in names:
        assert (tmp_path / "1" / name).read_bytes() == (tmp_path / "2" / name).read_bytes()


def test_width_reaches_the_conversion(tmp_path: Path) -> None:
    report = convert_all([lay(tmp_path / "in", a="ok")], tmp_path / "out", Settings(), 1, 8.0, convert=convert)
    assert report.rows[0].width_mm == 8.0


@pytest.mark.parametrize("twin", [False, True])
def test_a_twin_is_sewn_only_if_asked_for(tmp_path: Path, twin: bool) -> None:
    folder = lay(tmp_path / "in", a="ok")
    convert_all([folder], tmp_path / "out", Settings(), twin=twin, convert=convert)
    checks = json.loads((tmp_path / "out" / "a.plan.json").read_bytes())["checks"]
    assert (checks["cut_out"] is not None) == twin


def test_progress_names_the_files_in_work_and_ends_at_all(tmp_path: Path) -> None:
    seen: list[Progress] = []
    folder = lay(tmp_path / "in", a="ok", b="crash", c="ok")
    convert_all([folder], tmp_path / "out", Settings(), 1, progress=seen.append, convert=convert)
    assert [each.done for each in seen] == sorted(each.done for each in seen)
    assert seen[-1] == Progress(3, 3, ())
    assert {name for each in seen for name in each.in_work} == {"a.svg", "b.svg", "c.svg"}
    assert all(len(each.in_work) <= 1 for each in seen)


def test_the_largest_files_come_first_and_the_report_keeps_its_order(tmp_path: Path) -> None:
    seen: list[Progress] = []
    folder = lay(tmp_path / "in", a="ok", b="ok" + 90 * " ", c="ok" + 9 * " ")
    report = convert_all([folder], tmp_path / "out", Settings(), 1, progress=seen.append, convert=convert)
    assert list(dict.fromkeys(name for each in seen for name in each.in_work)) == ["b.svg", "c.svg", "a.svg"]
    assert [row.name for row in report.rows] == ["a.svg", "b.svg", "c.svg"]


def test_the_callers_environment_is_left_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OMP_NUM_THREADS", "7")
    monkeypatch.delenv("OPENBLAS_NUM_THREADS", raising=False)
    run(lay(tmp_path / "in", a="ok"), tmp_path / "out")
    assert os.environ["OMP_NUM_THREADS"] == "7"
    assert "OPENBLAS_NUM_THREADS" not in os.environ


def test_an_output_folder_that_is_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("in the way")
    with pytest.raises(OutputError, match="out cannot be written"):
        run(lay(tmp_path / "in", a="ok"), tmp_path / "out")


def test_a_results_folder_that_cannot_be_made_fails_its_files_only(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "boats").write_text("in the way")
    report = run(lay(tmp_path / "in", a="ok", boats__b="ok"), tmp_path / "out")
    assert outcome(report) == {"a.svg": "converted", "boats/b.svg": "failed"}
    assert "cannot be written" in report.rows[1].reason


def test_a_name_too_long_for_its_results_costs_only_its_own_file(tmp_path: Path) -> None:
    """246 bytes and .plan.json are one more than file systems take: not even looking for it is allowed."""
    report = run(
        lay(tmp_path / "in", **{"a": "ok", "b" * 246: "ok", "c": "ok", "d" * 246: "crash"}), tmp_path / "out"
    )
    assert [row.status for row in report.rows] == ["converted", "failed", "converted", "failed"]
    assert "File name too long. Give the file a shorter name." in report.rows[1].reason
    assert "exit status 3" in report.rows[3].reason
    assert (tmp_path / "out" / "index.html").stat().st_size > 0


def test_a_results_folder_that_may_not_be_entered_costs_only_its_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As for a user who may not: in this process looking is refused, in the child's the folder is a file."""
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "boats").write_text("in the way")
    stat = os.stat

    def guarded(path: object, **how: object) -> object:
        if "out/boats/" in str(path):
            raise PermissionError(13, "Permission denied", str(path))
        return stat(path, **how)  # type: ignore[call-overload]

    monkeypatch.setattr(os, "stat", guarded)
    report = run(lay(tmp_path / "in", a="ok", boats__b="ok"), tmp_path / "out")
    assert outcome(report) == {"a.svg": "converted", "boats/b.svg": "failed"}


def test_an_unreadable_file_is_said_to_be(tmp_path: Path) -> None:
    folder = lay(tmp_path / "in", a="ok")
    (folder / "gone.svg").symlink_to(folder / "nowhere")
    report = run(folder, tmp_path / "out")
    assert report.rows[1].reason == "The file cannot be read: No such file or directory."
    assert report.rows[0].status == "converted"


def test_a_batch_stopped_by_hand_leaves_nothing_half_written(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "a.png.part").write_bytes(b"half")

    def stop(progress: Progress) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        convert_all(
            [lay(tmp_path / "in", a="hang")], tmp_path / "out", Settings(), 1, progress=stop, convert=convert
        )
    assert list((tmp_path / "out").iterdir()) == []
    assert not multiprocessing.active_children()
