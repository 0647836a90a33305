"""From the paths that a person gives to the files to convert, and where each one's results go."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePath

from pipeline.batch.report import spelled

SUFFIXES = (".svg", ".svgz")
GALLERY_STEM = "index"
"""The batch writes a page of this name into the output folder itself."""


@dataclass(frozen=True)
class Job:
    """A file to convert.

    ``source`` is where it lies, ``name`` its path in the batch: that of its results beneath the output folder,
    with the file's own ending. A ``refusal`` says in a sentence why it is not even tried.
    """

    source: Path
    name: PurePath
    refusal: str | None = None

    @property
    def target(self) -> str:
        """What its results are called beneath the output folder, without their endings."""
        return self.name.with_suffix("").as_posix()


def find(paths: Sequence[Path]) -> tuple[Job, ...]:
    """The files of ``paths`` in the order of their names in the batch, each once.

    A folder is searched recursively, its links to folders are not followed. Whatever cannot be converted is
    there too, with its refusal: an empty folder, a folder that cannot be listed, two files of one name.
    """
    found: dict[tuple[str, PurePath], Job] = {}
    for job in (job for path in paths for job in _under(path)):
        found.setdefault((os.path.abspath(job.source), job.name), job)
    jobs = sorted(found.values(), key=lambda job: (job.target, job.name.as_posix(), job.source.as_posix()))
    return tuple(_refuse_clashes(jobs))


def _under(path: Path) -> Iterator[Job]:
    if not os.path.isdir(path):
        yield _readable(Job(path, PurePath(path.name)))
        return
    unlisted: list[OSError] = []
    empty = True
    for folder, folders, names in os.walk(path, onerror=unlisted.append):
        folders.sort()
        for name in sorted(names):
            if name.lower().endswith(SUFFIXES):
                empty = False
                source = Path(folder, name)
                yield _readable(Job(source, source.relative_to(path)))
    for error in unlisted:
        yield Job(Path(error.filename), PurePath(error.filename), f"The folder cannot be listed: {error.strerror}.")
    if empty and not unlisted:
        yield Job(path, PurePath(path), "The folder holds no SVG file (*.svg or *.svgz).")


def _readable(job: Job) -> Job:
    """The job, refused if its name cannot be written into any of the results."""
    name = spelled(str(job.name))
    if name == str(job.name):
        return job
    return Job(job.source, PurePath(name), "The file's name is not valid UTF-8. Rename it.")


def _refuse_clashes(jobs: Sequence[Job]) -> Iterator[Job]:
    """Of files whose results would have one name the first is kept; nothing may overwrite the gallery."""
    kept: dict[str, Path] = {}
    for job in jobs:
        target = os.path.normcase(job.target)
        refusal = job.refusal
        if refusal is None and target == GALLERY_STEM:
            refusal = "Its sheet would be called index.html like the batch's gallery. Rename the file."
        elif refusal is None and kept.setdefault(target, job.source) != job.source:
            refusal = f"Its results would overwrite those of {kept[target]}. Rename {job.source} or that file, or"
            refusal += " give the folder above both."
        yield replace(job, refusal=refusal)
