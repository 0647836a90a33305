from __future__ import annotations

from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import pytest

from pipeline.errors import SettingsError
from pipeline.settings import Settings, describe, from_document, load


def test_defaults_are_the_handbooks() -> None:
    settings = load(None)
    assert (settings.fabric.row_mm, settings.fabric.pitch_mm, settings.fabric.pull_mm) == (0.20, 0.40, 0.15)
    assert settings.tatami.stitch_mm == 4.0
    assert settings.lengths.longest_mm == 7.0


def test_file_overrides_values_and_adds_a_recipe(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    file.write_text(
        '[use]\nfabric = "club jersey"\nmachine = "small hoop"\n'
        '[fabric."club jersey"]\nbased_on = "knit"\npull_mm = 0.35\n[tatami]\nstitch_mm = 3\n'
    )
    settings = load(file)
    assert settings.fabric.name == "club jersey"
    assert (settings.fabric.pull_mm, settings.fabric.foundation) == (0.35, "edge and crossed rows")
    assert settings.tatami.stitch_mm == 3.0
    assert settings.machine.needles == 6


@pytest.mark.parametrize(
    ("document", "words"),
    [
        ({"tatami": {"stich_mm": 4.0}}, "did you mean 'stitch_mm'"),
        ({"tattami": {}}, "did you mean 'tatami'"),
        ({"tatami": {"stitch_mm": 90.0}}, "allowed: 1.5 to 7"),
        ({"tatami": {"stitch_mm": float("nan")}}, "allowed: 1.5 to 7"),
        ({"tatami": {"stitch_mm": "long"}}, "must be of type float"),
        ({"tatami": 4}, "must be a table"),
        ({"use": {"fabric": "knitt"}}, "did you mean 'knit'"),
        ({"fabric": {"mine": {"based_on": "wool"}}}, "unknown"),
        ({"fabric": {"mine": {"foundation": "none"}}}, "allowed: 'edge'"),
        ({"roles": {"max_layers": 3.5}}, "must be of type int"),
        ({"roles": {"max_layers": True}}, "must be of type int"),
        ({"tatami": {"row_mm": 0.25}}, r"belongs into \[fabric\.NAME\]"),
        ({"row_mm": 0.25}, r"belongs into \[fabric\.NAME\]"),
        ({"use": {"fabric": []}}, "must be one name, such as 'firm woven'"),
        ({"use": {"machine": {"a": 1}}}, "must be one name"),
        ({"fabric": {"mine": {"based_on": ["knit"]}}}, "unknown"),
        ({"tatami": {"stitch_mm": 10**400}}, "allowed: 1.5 to 7"),
        ({"use": {"fabric": "sailcloth"}}, r'firm woven.*or describe it in \[fabric\."sailcloth"\]'),
    ],
)
def test_wrong_value_is_refused_with_what_is_right(document: dict[str, Any], words: str) -> None:
    with pytest.raises(SettingsError, match=words):
        from_document(document)


def test_unreadable_file_is_refused_by_name(tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text("[use\n")
    with pytest.raises(SettingsError, match=r"bad\.toml"):
        load(bad)
    with pytest.raises(SettingsError, match=r"none\.toml"):
        load(tmp_path / "none.toml")


def test_a_file_of_any_editor_is_read_and_a_comma_explained(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    file.write_bytes(b"\xef\xbb\xbf[tatami]\r\nstitch_mm = 3.5\r\n")
    assert load(file).tatami.stitch_mm == 3.5
    file.write_text("[tatami]\nstitch_mm = 3,5\n")
    with pytest.raises(SettingsError, match="written with a point"):
        load(file)
    file.write_bytes(b'[fabric."M\xf6we"]\n')
    with pytest.raises(SettingsError, match="save it as UTF-8"):
        load(file)


@pytest.mark.parametrize(
    "text",
    ["[use]\nfabric = " + "[" * 5000 + "]" * 5000, f"[use.{'a.' * 3000}b]\n", f"[use]\nfabric = {'9' * 5000}\n"],
)
def test_a_file_nested_beyond_reason_is_refused_like_any_other(tmp_path: Path, text: str) -> None:
    file = tmp_path / "deep.toml"
    file.write_text(text)
    with pytest.raises(SettingsError, match=r"deep\.toml"):
        load(str(file))


def test_recipes_are_described_as_well() -> None:
    keys = [item.key for item in describe()]
    assert {"fabric.NAME.row_mm", "thread.NAME.tex", "machine.NAME.hoop_width_mm"} <= set(keys)
    assert not [key for key in keys if key.endswith(".name")]


def test_every_number_has_a_range_that_holds_its_default() -> None:
    numbers = [
        item for item in describe() if isinstance(item.default, (int, float)) and not isinstance(item.default, bool)
    ]
    assert len(numbers) > 50
    for item in numbers:
        assert item.low is not None, item.key
        assert item.high is not None, item.key
        assert item.low <= item.default <= item.high, item.key
        assert item.meaning, item.key


def test_settings_are_frozen_all_the_way() -> None:
    for item in fields(Settings()):
        value = getattr(Settings(), item.name)
        assert is_dataclass(value)
        assert type(value).__dataclass_params__.frozen
