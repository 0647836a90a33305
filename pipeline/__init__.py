"""plystitch: layered artwork to embroidery stitch plans and machine files.

from pipeline import convert, load_settings, write_files

settings = load_settings(None)
plan = convert("artwork/tern.svg", settings)
write_files(plan, "out", "tern", settings.write)
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pipeline.flow import convert
    from pipeline.settings import Settings, load as load_settings
    from pipeline.write import write_files

__version__ = "0.1.0"

__all__ = ["Settings", "convert", "load_settings", "write_files"]


def __getattr__(name: str) -> Any:
    """Import what is asked for, so that one room can be used without loading the others."""
    if name == "convert":
        from pipeline.flow import convert

        return convert
    if name == "write_files":
        from pipeline.write import write_files

        return write_files
    if name in ("Settings", "load_settings"):
        from pipeline import settings

        return settings.Settings if name == "Settings" else settings.load
    raise AttributeError(f"module 'pipeline' has no attribute {name!r}")
