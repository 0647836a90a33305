"""The two ways in which a file can fail: the artwork's fault, or ours."""

from __future__ import annotations


class ArtworkError(Exception):
    """The artwork cannot be sewn as it is, and its sender can mend it.

    The message is one clear sentence for that person: which element, what is wrong, what to do.
    The batch adds the file's name in front.
    """


class SettingsError(Exception):
    """A setting is unknown or out of range; the message gives the nearest right name or the allowed range."""


class BrokenPromiseError(Exception):
    """A room handed on something that its contract excludes: a bug in plystitch, never the sender's fault."""


class OverlayError(BrokenPromiseError):
    """Two shapes could not be laid over each other, not even on a grid; ``where`` in mm if that is known."""

    def __init__(self, message: str, where: tuple[float, float] | None = None) -> None:
        super().__init__(message)
        self.where = where
