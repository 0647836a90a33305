"""Packages whose names are imported when they are first asked for: who wants settings or help loads no geometry."""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import Any


class _Package(ModuleType):
    """A package that knows in which of its modules each of its names is at home."""

    homes: dict[str, str]

    def __getattr__(self, name: str) -> Any:
        if name not in self.homes:
            raise AttributeError(f"module {self.__name__!r} has no attribute {name!r}")
        value = getattr(import_module(f"{self.__name__}.{self.homes[name]}"), name)
        self.__dict__[name] = value
        return value

    def __setattr__(self, name: str, value: object) -> None:
        """Loading a module would make it an attribute of its package: one of the names keeps its meaning."""
        if not (isinstance(value, ModuleType) and name in self.homes):
            super().__setattr__(name, value)

    def __dir__(self) -> list[str]:
        return sorted({*super().__dir__(), *self.homes})


def lazily(package: str, **names: str) -> None:
    """Let ``package`` have the names of each module given, parted by blanks, without importing it yet."""
    module = sys.modules[package]
    homes = {name: home for home, listed in names.items() for name in listed.split()}
    module.__dict__.update(homes=homes, __all__=sorted(homes))
    module.__class__ = _Package
