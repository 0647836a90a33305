"""One file of a batch, in a process of its own: convert it, write its results, and say what became of it."""

from __future__ import annotations

import errno
import os
import time
import traceback
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import pipeline
from pipeline.batch.report import converted_row, failed_row
from pipeline.batch.search import Job
from pipeline.errors import ArtworkError, BrokenPromiseError
from pipeline.model import Plan
from pipeline.settings import Settings
from pipeline.write.summary import Row
from pipeline.write.whole import SUFFIXES, UNFINISHED

Convert = Callable[[Path, Settings, float | None, bool], Plan]

OUR_FAULT = "This is a fault in plystitch, not in the artwork"


@dataclass(frozen=True)
class Task:
    """A job with all that a fresh process needs to do it; ``convert`` is that of ``pipeline`` if None."""

    job: Job
    out: Path
    settings: Settings
    width_mm: float | None
    twin: bool
    convert: Convert | None

    @property
    def folder(self) -> Path:
        """Where the results go."""
        return self.out / self.job.name.parent

    @property
    def stem(self) -> str:
        """What they are called, without their endings."""
        return self.job.name.stem

    @property
    def has_results(self) -> bool:
        """Whether results lie there, of this run or of an earlier one; not where nobody may look."""
        return any(os.path.isfile(self.folder / (self.stem + suffix)) for suffix in SUFFIXES)

    @property
    def size(self) -> int:
        """Bytes of the file: larger ones take longer. 0 where they cannot be told."""
        try:
            return self.job.source.stat().st_size
        except OSError:
            return 0


def perform(task: Task) -> Row:
    """Convert and write one file; whatever goes wrong becomes a row with its reason."""
    began = time.perf_counter()
    plan, reason = _attempt(task)
    seconds = time.perf_counter() - began
    name = task.job.name.as_posix()
    return failed_row(name, reason, seconds) if plan is None else converted_row(name, plan, seconds)


def _attempt(task: Task) -> tuple[Plan | None, str]:
    """The plan, its files written; or None and a sentence."""
    details = task.folder / f"{task.stem}.error.txt"
    try:
        with task.job.source.open("rb") as file:
            file.read(1)
    except OSError as error:
        return None, f"The file cannot be read: {error.strerror}."
    try:
        plan = (task.convert or pipeline.convert)(task.job.source, task.settings, task.width_mm, task.twin)
    except ArtworkError as error:
        return None, str(error)
    except MemoryError:
        return None, f"It needs more than {task.settings.batch.memory_mib} MiB of memory."
    except BrokenPromiseError as error:
        return None, _our_fault(str(error), details)
    except Exception as error:
        return None, _our_fault(f"{type(error).__name__}: {error}", details)
    try:
        from pipeline.write.files import write_files  # loads what draws: the batch's own process does without

        write_files(plan, task.folder, task.stem, task.settings.write)
        details.unlink(missing_ok=True)
    except OSError as error:
        remedy = " Give the file a shorter name." if error.errno == errno.ENAMETOOLONG else ""
        return None, f"Its results cannot be written into {task.folder}: {error.strerror}.{remedy}"
    except Exception as error:
        return None, _our_fault(f"{type(error).__name__}: {error}", details)
    return plan, ""


def _our_fault(sentence: str, details: Path) -> str:
    """Keep what a developer needs beside the results, and say so."""
    reason = f"{OUR_FAULT}: {sentence.rstrip('.')}"
    try:
        details.parent.mkdir(parents=True, exist_ok=True)
        details.write_text(f"{sentence}\n\n{traceback.format_exc()}", encoding="utf-8")
    except OSError:
        return f"{reason}."
    return f"{reason}. The details are in {details.name}."


def tidy(task: Task) -> None:
    """Remove what a process that died may have left half-written."""
    for suffix in SUFFIXES:
        with suppress(OSError):  # where nothing could be written nothing is left either
            (task.folder / (task.stem + suffix + UNFINISHED)).unlink(missing_ok=True)
