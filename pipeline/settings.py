"""All rooms' settings gathered in one frozen type, and loaded from TOML.

A settings file names what is used and overrides any value::

    [use]
    fabric = "knit"

    [fabric."club jersey"]      # a recipe of your own, built on a known one
    based_on = "knit"
    pull_mm = 0.35

    [tatami]
    stitch_mm = 3.5
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field, fields, is_dataclass, replace
from pathlib import Path
from typing import Any, Literal, TypeVar, get_args, get_origin, get_type_hints

from pipeline.batch_settings import BatchSettings
from pipeline.craft import USUAL_THREAD_MM, Craft, FoundationSettings, LengthSettings
from pipeline.errors import SettingsError
from pipeline.measure.settings import MeasureSettings
from pipeline.model import Fabric, Machine, Thread
from pipeline.read.settings import ReadSettings
from pipeline.recipes import FABRICS, MACHINES, THREADS
from pipeline.regions.settings import RegionSettings
from pipeline.roles.settings import RoleSettings
from pipeline.split.settings import SplitSettings
from pipeline.steps.settings import StepSettings
from pipeline.stitch.settings import RunSettings, SatinSettings, TatamiSettings
from pipeline.tie.settings import TieSettings
from pipeline.write.settings import WriteSettings

Group = TypeVar("Group")


@dataclass(frozen=True)
class Settings:
    """Every value used for a job. The defaults are the handbook's; see ``describe`` for units and ranges."""

    fabric: Fabric = FABRICS[0]
    thread: Thread = THREADS[0]
    machine: Machine = MACHINES[0]
    lengths: LengthSettings = field(default_factory=LengthSettings)
    foundation: FoundationSettings = field(default_factory=FoundationSettings)
    read: ReadSettings = field(default_factory=ReadSettings)
    regions: RegionSettings = field(default_factory=RegionSettings)
    roles: RoleSettings = field(default_factory=RoleSettings)
    split: SplitSettings = field(default_factory=SplitSettings)
    steps: StepSettings = field(default_factory=StepSettings)
    tatami: TatamiSettings = field(default_factory=TatamiSettings)
    satin: SatinSettings = field(default_factory=SatinSettings)
    run: RunSettings = field(default_factory=RunSettings)
    tie: TieSettings = field(default_factory=TieSettings)
    measure: MeasureSettings = field(default_factory=MeasureSettings)
    write: WriteSettings = field(default_factory=WriteSettings)
    batch: BatchSettings = field(default_factory=BatchSettings)

    @property
    def craft(self) -> Craft:
        """What fabric, thread, machine and these settings ask of every stitch."""
        detail = self.split.for_thread(self.thread.laid_mm / USUAL_THREAD_MM)
        return Craft(
            self.fabric, self.thread, self.machine, self.lengths, self.foundation,
            self.tatami.stitch_mm, detail.run_below_mm, detail.satin_up_to_mm,
        )  # fmt: skip

    def resolved(self) -> dict[str, Any]:
        """Every value, as the plan records it. How the batch is run is no part of a plan."""
        values = asdict(self)
        del values["batch"]
        return values


@dataclass(frozen=True)
class Described:
    """One setting for a person: its TOML key, default, meaning, range (None where it has none) and unit."""

    key: str
    default: Any
    meaning: str
    low: float | None = None
    high: float | None = None
    unit: str = ""


ROOMS = tuple(f.name for f in fields(Settings) if f.name not in ("fabric", "thread", "machine"))
STOCK: dict[str, tuple[Any, ...]] = {"fabric": FABRICS, "thread": THREADS, "machine": MACHINES}


def load(path: Path | str | None) -> Settings:
    """The settings of a TOML file, or the defaults.

    Raises:
        SettingsError: the file cannot be read, or a key or value is wrong; the message says what is allowed.
    """
    if path is None:
        return Settings()
    path, text = Path(path), ""
    try:
        text = path.read_text(encoding="utf-8-sig")  # some editors put a mark in front
        return from_document(tomllib.loads(text))
    except SettingsError as error:
        raise SettingsError(f"{path}: {error}") from error
    except UnicodeDecodeError as error:
        raise SettingsError(f"{path}: is not UTF-8 text; save it as UTF-8") from error
    except OSError as error:
        raise SettingsError(f"{path}: cannot be read: {error.strerror}") from error
    except RecursionError as error:
        raise SettingsError(f"{path}: is nested too deeply; settings are tables of plain values") from error
    except ValueError as error:  # broken TOML, or a number of thousands of digits
        comma = "; numbers are written with a point, 0.2" if re.search(r"=\s*-?\d+,\d", text) else ""
        raise SettingsError(f"{path}: cannot be read as TOML: {error}{comma}") from error


def from_document(document: Mapping[str, Any]) -> Settings:
    """Settings from a parsed TOML document; unknown keys and values out of range are refused.

    Raises:
        SettingsError: as in ``load``.
    """
    _known(document, ("use", *STOCK, *ROOMS), "table")
    use = _table(document, "use")
    _known(use, STOCK, "use")
    chosen = {kind: _chosen(kind, stock, document, use) for kind, stock in STOCK.items()}
    default = Settings()
    rooms = {name: _changed(name, getattr(default, name), _table(document, name)) for name in ROOMS}
    return Settings(**chosen, **rooms)


def describe() -> list[Described]:
    """Every setting that a TOML file can change, in the order of the flow."""
    rows = [
        Described(f"use.{kind}", stock[0].name, "one of: " + ", ".join(item.name for item in stock))
        for kind, stock in STOCK.items()
    ]
    default = Settings()
    for table, name in _tables():
        group = getattr(default, name)
        hints = get_type_hints(type(group))
        for item in fields(group):
            if item.name == "name":
                continue
            said = item.metadata or {"meaning": _choices(hints[item.name])}
            rows.append(Described(f"{table}.{item.name}", getattr(group, item.name), **said))
    return rows


def _tables() -> list[tuple[str, str]]:
    """Every table of a settings file, as it is written there, and the attribute of ``Settings`` behind it.

    Recipes have a table each; NAME stands for theirs, and the first of the stock for their values.
    """
    return [(f"{kind}.NAME", kind) for kind in STOCK] + [(name, name) for name in ROOMS]


def _chosen(kind: str, stock: tuple[Any, ...], document: Mapping[str, Any], use: Mapping[str, Any]) -> Any:
    """The fabric, thread or machine that ``[use]`` names, with the recipes that the file adds."""
    known = {item.name: item for item in stock}
    for name, values in _table(document, kind).items():
        if not isinstance(values, dict):
            raise SettingsError(f'[{kind}] takes tables such as [{kind}."my own"], not the value {name!r}')
        values = dict(values)
        base = values.pop("based_on", name if name in known else stock[0].name)
        if not isinstance(base, str) or base not in known:
            raise SettingsError(f"{kind} {name!r} is based on {base!r}, which is unknown{_near(str(base), known)}")
        known[name] = replace(_changed(f'{kind}."{name}"', known[base], values), name=name)
    wanted = use.get(kind, stock[0].name)
    if not isinstance(wanted, str):
        raise SettingsError(f"use.{kind} is {wanted!r}; it must be one name, such as {stock[0].name!r}")
    if wanted not in known:
        raise SettingsError(
            f'unknown {kind} {wanted!r}{_near(str(wanted), known)}; or describe it in [{kind}."{wanted}"]'
        )
    return known[wanted]


def _table(document: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    table = document.get(name, {})
    if not isinstance(table, dict):
        raise SettingsError(f"{name!r} must be a table: write [{name}] on a line of its own")
    return table


def _known(given: Iterable[str], names: Iterable[str], where: str) -> None:
    names = tuple(names)
    for key in given:
        if key not in names:
            raise SettingsError(f"unknown {where} setting {key!r}{_elsewhere(key) or _near(key, names)}")


def _elsewhere(key: str) -> str:
    """Where a key that is right, but stands in the wrong table, belongs."""
    homes = [table for table, name in _tables() if key in {item.name for item in fields(getattr(Settings(), name))}]
    homes = [] if key == "name" else homes
    return f": it belongs into [{'] or ['.join(homes)}]" if homes else ""


def _near(key: str, names: Iterable[str]) -> str:
    """What may have been meant, or all that there is."""
    close = difflib.get_close_matches(key, list(names), n=1, cutoff=0.6)
    return f": did you mean {close[0]!r}?" if close else f"; known: {', '.join(names)}"


def _changed(where: str, group: Group, values: Mapping[str, Any]) -> Group:
    """``group`` with the given values, each checked against its type and range."""
    assert is_dataclass(group)
    assert not isinstance(group, type)
    hints = get_type_hints(type(group))
    limits = {item.name: item.metadata for item in fields(group) if item.name != "name"}
    _known(values, limits, where)
    checked = {key: _checked(f"{where}.{key}", hints[key], limits[key], value) for key, value in values.items()}
    return replace(group, **checked)


def _checked(where: str, hint: Any, limit: Mapping[str, Any], value: Any) -> Any:
    if get_origin(hint) is Literal:
        if value not in get_args(hint):
            raise SettingsError(f"{where} is {value!r}; allowed: {', '.join(map(repr, get_args(hint)))}")
        return value
    if type(value) is not hint and not (hint is float and type(value) is int):
        raise SettingsError(f"{where} is {value!r}; it must be of type {hint.__name__}")
    if limit and not limit["low"] <= value <= limit["high"]:
        raise SettingsError(f"{where} is {value} {limit['unit']}; allowed: {limit['low']:g} to {limit['high']:g}")
    return hint(value)


def _choices(hint: Any) -> str:
    if get_origin(hint) is Literal:
        return "one of: " + ", ".join(map(str, get_args(hint)))
    return "true or false" if hint is bool else "text"
