"""The command line as scripts see it: exit status, stdout, stderr."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import fields
from pathlib import Path

import pytest

from pipeline import settings as known
from pipeline.cli import main
from pipeline.write.summary import Row

PENNANT = '<svg xmlns="http://www.w3.org/2000/svg" width="12mm" height="8mm" viewBox="0 0 12 8">{}</svg>'
GOOD = PENNANT.format('<path id="pennant" fill="#1e3cc8" d="M1 1L11 4L1 7Z"/>')


@pytest.fixture
def harbour(tmp_path: Path) -> Path:
    folder = tmp_path / "harbour"
    folder.mkdir()
    (folder / "pennant.svg").write_text(GOOD, encoding="utf-8")
    return folder


def plystitch(*arguments: object) -> int:
    """Run the command; its exit status."""
    with pytest.raises(SystemExit) as stop:
        main([str(each) for each in arguments], prog_name="plystitch")
    return int(stop.value.code or 0)


def test_a_folder_is_converted_and_told_as_a_table(harbour: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = harbour.parent / "out"
    assert plystitch("convert", harbour, "--out", out, "--workers", 1) == 0
    told = capsys.readouterr()
    head, row, _, last = told.out.splitlines()
    assert head.split() == [
        "file",
        "status",
        "stitches",
        "colours",
        "size",
        "mm",
        "minutes",
        "thread",
        "m",
        "errors",
        "warnings",
        "notes",
    ]
    assert row.split()[:2] == ["pennant.svg", "converted"]
    assert last == "1 converted, 0 failed"
    assert told.err == "1/1\n"
    assert {path.name for path in out.iterdir()} == {
        *(f"pennant{ending}" for ending in (".plan.json", ".dst", ".png", ".html")),
        *("summary.csv", "summary.json", "index.html"),
    }


def test_a_failed_file_is_status_1_and_its_sentence_goes_to_stderr(
    harbour: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (harbour / "blank.svg").write_text(PENNANT.format(""), encoding="utf-8")
    out = harbour.parent / "out"
    assert plystitch("convert", harbour, "--out", out, "--workers", 1) == 1
    told = capsys.readouterr()
    assert "1 converted, 1 failed" in told.out
    (sentence,) = [line for line in told.err.splitlines() if line.startswith("blank.svg: ")]
    assert sentence.endswith(".")
    assert (out / "pennant.plan.json").exists()
    assert not (out / "blank.plan.json").exists()


def test_json_on_stdout_is_whole_and_nothing_else_is_there(
    harbour: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert (
        plystitch("convert", harbour, "--out", harbour.parent / "out", "--json", "--width", 24, "--workers", 1) == 0
    )
    found = json.loads(capsys.readouterr().out)
    assert (found["converted"], found["failed"]) == (1, 0)
    (row,) = found["files"]
    assert set(row) == {field.name for field in fields(Row)}
    assert row["width_mm"] == pytest.approx(20.0, abs=1.0)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["convert"], "Missing argument 'PATH...'"),
        (["convert", "{harbour}"], "Missing option '--out'"),
        (["convert", "{harbour}/nowhere.svg", "--out", "{out}"], "does not exist"),
        (["convert", "{harbour}", "--out", "{out}", "--width", "0"], "'--width'"),
        (["convert", "{harbour}", "--out", "{out}", "--width", "nan"], "'--width'"),
        (["convert", "{harbour}", "--out", "{out}", "--width", "90,5"], "write a plain number of mm"),
        (["convert", "{harbour}", "--out", "{out}", "--width", "3000"], "allowed: over 0 to 2000 mm"),
        (["convert", "{harbour}", "--out", "{out}", "--workers", "0"], "'--workers'"),
        (["convert", "{harbour}", "--out", "{harbour}/pennant.svg"], "'--out'"),
        (["convert", "{harbour}", "--out", "{harbour}/pennant.svg/deep"], "cannot be written"),
        (["convert", "{harbour}", "--out", "{out}", "--settings", "{harbour}/none.toml"], "'--settings'"),
        (["convert", "{harbour}", "--out", "{out}", "--settings", "{harbour}/odd.toml"], "pull_m"),
        (["sew"], "No such command"),
    ],
)
def test_a_command_used_wrongly_is_status_2_with_a_sentence(
    harbour: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    (harbour / "odd.toml").write_text('[fabric."ours"]\npull_m = 0.1\n', encoding="utf-8")
    places = {"harbour": str(harbour), "out": str(harbour.parent / "out")}
    assert plystitch(*(each.format(**places) for each in arguments)) == 2
    told = capsys.readouterr()
    assert said in told.err
    assert "Traceback" not in told.err
    assert told.out == ""
    assert not (harbour.parent / "out").exists()


HOSTILE = "hull\x1b[31m\x9b2J\u202etide\n"
"""Letters that colour, clear or reverse what a terminal shows, and begin a new line."""


@pytest.mark.parametrize("options", [(), ("--json",)])
def test_names_never_reach_the_terminal_raw(
    harbour: Path, capsys: pytest.CaptureFixture[str], options: tuple[str, ...]
) -> None:
    (harbour / f"{HOSTILE}.svg").write_text(GOOD, encoding="utf-8")
    (harbour / f"{HOSTILE}2.svg").write_text("no artwork", encoding="utf-8")
    assert plystitch("convert", harbour, "--out", harbour.parent / "out", "--workers", 1, *options) == 1
    told = capsys.readouterr()
    for text in (told.out, told.err):
        assert all(letter.isprintable() or letter == "\n" for letter in text)
        assert "hull\\u001b[31m\\u009b2J\\u202etide\\n2.svg" in text
    if options:
        assert json.loads(told.out)["files"][0]["name"] == f"{HOSTILE}.svg"


def test_complaints_never_reach_the_terminal_raw(harbour: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shop = harbour.parent / "shop.toml"
    shop.write_text('[use]\nfabric = "knit\\u001b[2J"\n', encoding="utf-8")
    for arguments in (
        ("convert", harbour / HOSTILE, "--out", harbour.parent / "out"),
        ("convert", harbour, "--out", harbour.parent / "out", "--settings", shop),
        ("convert", f"--{HOSTILE}"),
        (HOSTILE,),
    ):
        assert plystitch(*arguments) == 2
        told = capsys.readouterr().err
        assert "Error: " in told
        assert all(letter.isprintable() or letter == "\n" for letter in told)


def run_apart(*arguments: object) -> subprocess.CompletedProcess[str]:
    """The module as a command in a process of its own, as no test's own imports can help it."""
    command = [sys.executable, "-m", "pipeline", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)


def test_the_module_is_the_command_and_forked_children_convert(harbour: Path) -> None:
    """The time limit holds there as well; here it is too short for any file."""
    (harbour / "buoy.svg").write_text(GOOD, encoding="utf-8")
    found = run_apart("convert", harbour, "--out", harbour.parent / "a", "--workers", 2)
    assert (found.returncode, found.stderr[-4:]) == (0, "2/2\n")
    shop = harbour.parent / "shop.toml"
    shop.write_text("[batch]\ntimeout_s = 0.1\n", encoding="utf-8")
    found = run_apart("convert", harbour, "--out", harbour.parent / "b", "--settings", shop)
    assert found.returncode == 1
    assert "buoy.svg: It took longer than 0.1 s on the processor and was given up." in found.stderr


HEAVY = ("numpy", "scipy", "shapely", "lxml", "PIL", "fontTools", "pyclipper")


def test_the_commands_own_process_loads_no_geometry(harbour: Path) -> None:
    """It is what help waits for, and what may be forked."""
    code = (
        "import sys\nfrom pipeline.cli import main\n"
        f"try:\n main(['convert', {str(harbour)!r}, '--out', {str(harbour.parent / 'out')!r}])\n"
        f"except SystemExit as stop: assert stop.code == 0\nprint([m for m in {HEAVY} if m in sys.modules])"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=False)
    assert found.stdout.splitlines()[-1] == "[]", found.stderr


def test_settings_lists_every_one_with_its_default(capsys: pytest.CaptureFixture[str]) -> None:
    assert plystitch("settings") == 0
    lines = capsys.readouterr().out.splitlines()
    rows = known.describe()
    assert len(lines) == len(rows) + 1
    for line, row in zip(lines[1:], rows, strict=True):
        assert line.split()[0] == row.key
        assert row.meaning in line


def test_help_names_the_exit_statuses(capsys: pytest.CaptureFixture[str]) -> None:
    assert plystitch("convert", "--help") == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "0 if all files were converted" in told
    for option in ("--out DIR", "--settings FILE", "--width MM", "--workers N", "--twin", "--json"):
        assert option in told


def test_refused_severities_make_it_status_1_and_files_are_written(
    harbour: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two flags of nearly one colour: a note that a person may want to refuse."""
    flags = '<path fill="#1e3cc8" d="M1 1H5V7H1Z"/><path fill="#2a44cc" d="M7 1H11V7H7Z"/>'
    (harbour / "flags.svg").write_text(PENNANT.format(flags), encoding="utf-8")
    shop = harbour.parent / "shop.toml"
    shop.write_text("[read]\nsame_colour = 0.1\n[measure]\nalike = 20.0\n", encoding="utf-8")
    common = ("convert", harbour, "--workers", 1, "--settings", shop)
    assert plystitch(*common, "--out", harbour.parent / "a", "--refuse", "error") == 0
    capsys.readouterr()
    out = harbour.parent / "b"
    assert plystitch(*common, "--out", out, "--refuse", "note") == 1
    told = capsys.readouterr()
    assert "flags.svg: " in told.err
    assert "of severity note or graver" in told.err
    assert "2 converted, 0 failed" in told.out
    assert (out / "flags.dst").exists()


def test_a_twin_is_sewn_only_if_asked_for(harbour: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Its figures are those that the comparison prints, and nothing else of the plan is another."""
    inlaid = '<path fill="#1e3cc8" d="M0 0H12V8H0Z"/><path id="sun" fill="#f2c230" d="M4 2H8V6H4Z"/>'
    file = harbour / "pennant.svg"
    file.write_text(PENNANT.format(inlaid), encoding="utf-8")
    plans = []
    for name, options in (("plain", ()), ("both", ("--twin",))):
        out = harbour.parent / name
        assert plystitch("convert", file, "--out", out, "--width", 30, "--workers", 1, *options) == 0
        plans.append(json.loads((out / "pennant.plan.json").read_bytes()))
    capsys.readouterr()
    assert plystitch("compare", file, "--width", 30) == 0
    (row,) = [line for line in capsys.readouterr().out.splitlines() if line.startswith("Stitches  ")]
    twin = plans[1]["checks"].pop("cut_out")
    assert int(row.split()[-1].replace(",", "")) == twin["stitches"]
    assert plans[0]["checks"].pop("cut_out") is None
    assert plans[0] == plans[1]


def test_compare_prints_both_and_draws_them(harbour: Path, capsys: pytest.CaptureFixture[str]) -> None:
    inlaid = '<path fill="#1e3cc8" d="M0 0H12V8H0Z"/><path id="sun" fill="#f2c230" d="M4 2H8V6H4Z"/>'
    file = harbour / "inlaid.svg"
    file.write_text(PENNANT.format(inlaid), encoding="utf-8")
    out = harbour.parent / "proof"
    main(["compare", str(file), "--width", "30", "--out", str(out)], standalone_mode=False)
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].split() == ["figure", "in", "layers", "cut", "out"]
    (row,) = [line for line in lines if line.startswith("Stitches  ")]
    assert all(int(cell.replace(",", "")) > 500 for cell in row.split()[1:])
    assert lines[-1].startswith("In layers ")
    assert {path.name for path in out.iterdir()} == {"inlaid.compare.png", "inlaid.compare.html"}
    page = (out / "inlaid.compare.html").read_text(encoding="utf-8")
    assert "Cut out puzzle-fashion" in page
    assert "http:" not in page.split("base64,")[0]


def test_compare_says_what_cannot_be_sewn(harbour: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (harbour / "blank.svg").write_text(PENNANT.format(""), encoding="utf-8")
    assert plystitch("compare", harbour / "blank.svg") == 1
    assert "blank.svg: " in capsys.readouterr().err


def test_findings_are_counted_by_severity_and_the_reader_is_sent_to_the_page(
    harbour: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A flag larger than any hoop, with words in a font that nobody has: an error and a warning."""
    words = '<text x="1" y="4" font-size="3" font-family="Nosuch Fathom">Ahoy</text>'
    (harbour / "pennant.svg").write_text(GOOD.replace("<path", f"{words}<path"), encoding="utf-8")
    shop = harbour.parent / "shop.toml"
    shop.write_text('[machine."single head"]\nhoop_width_mm = 30.0\nhoop_height_mm = 30.0\n', encoding="utf-8")
    out = harbour.parent / "out"
    assert plystitch("convert", harbour, "--out", out, "--width", 40, "--settings", shop, "--workers", 1) == 0
    _, row, _, last = capsys.readouterr().out.splitlines()
    severities = [each["severity"] for each in json.loads((out / "pennant.plan.json").read_bytes())["findings"]]
    assert [int(cell) for cell in row.split()[-3:]] == [
        severities.count(each) for each in ("error", "warning", "note")
    ]
    assert {"error", "warning"} <= set(severities)
    assert "NAME.html" in last


def test_stopping_by_hand_says_what_is_left(
    harbour: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("pipeline.batch.convert.convert_all", stopped)
    assert plystitch("convert", harbour, "--out", harbour.parent / "out") == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert "whole" in told.err
    assert "Aborted" not in told.err
