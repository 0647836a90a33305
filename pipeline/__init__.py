"""plystitch: layered artwork to embroidery stitch plans and machine files.

from pipeline import convert, load_settings, write_files

settings = load_settings(None)
plan = convert("artwork/tern.svg", settings)
write_files(plan, "out", "tern", settings.write)
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pipeline.flow import convert
    from pipeline.settings import Settings, load as load_settings
    from pipeline.write.files import write_files

__version__ = "0.1.0"

__all__ = ["Settings", "convert", "load_settings", "write_files"]


def __getattr__(name: str) -> Any:
    """Import what is asked for, so that one room can be used without loading the others."""
    homes = {"Settings": "settings", "convert": "flow", "load_settings": "settings", "write_files": "write.files"}
    if name not in homes:
        raise AttributeError(f"module 'pipeline' has no attribute {name!r}")
    return getattr(import_module(f"pipeline.{homes[name]}"), name.removesuffix("_settings"))
