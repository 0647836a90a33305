"""A small pool of processes in which a task may crash, hang or eat memory, and the other tasks go on.

Each process takes one task at a time. One that dies, or takes longer than allowed, costs its task and is replaced.
Results come back in the order of the tasks, whichever process ran them.

Time is the processor's: a timer of the system ends a process that has used up what a task may take, in the midst of
any library. By the clock it may take much longer, since others may be busy; what sleeps is given up at last.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import Any, Generic, TypeVar

from pipeline.batch_settings import BatchSettings

try:
    import resource
except ImportError:  # Windows has no such limits: a file may then take the memory that the computer has.
    resource = None  # type: ignore[assignment]

Task = TypeVar("Task")
Result = TypeVar("Result")

MOST_FALSE_STARTS = 3
"""Processes in a row that die before they are ready: then the rest of the batch is given up, not tried for ever."""

CLOCK = 10.0 if hasattr(signal, "setitimer") else 1.0
"""How many times as long as on the processor a task may take by the clock; Windows has nothing but the clock."""

THREAD_LIMITS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
"""One process a core: libraries that start threads of their own would only fight over the cores."""


@dataclass(frozen=True)
class Lost:
    """A task without a result; ``reason`` is a sentence."""

    reason: str


@dataclass(eq=False)
class _Worker:
    process: BaseProcess
    line: Connection
    ready: bool = False
    task: int | None = None
    deadline: float = 0.0


class Pool(Generic[Task, Result]):
    """``workers`` processes that apply ``work`` (importable by name, so that a fresh process finds it) to tasks."""

    def __init__(self, work: Callable[[Task], Result], workers: int, limits: BatchSettings) -> None:
        self._work = work
        self._limits = limits
        self._most = max(1, workers)
        self._workers: list[_Worker] = []
        self._false_starts = 0

    def run(self, tasks: Sequence[Task], changed: Callable[[int, tuple[int, ...]], None]) -> list[Result | Lost]:
        """The results in the order of ``tasks``.

        ``changed`` is told, whenever a task begins or ends, how many are done and which are in work.
        """
        waiting = list(range(len(tasks)))[::-1]
        results: dict[int, Result | Lost] = {}
        try:
            while len(results) < len(tasks):
                self._staff(len(waiting))
                if not self._workers:
                    for place in waiting:
                        results[place] = Lost("No process could be started to convert it.")
                    break
                self._hand_out(tasks, waiting)
                changed(len(results), tuple(sorted(self._in_work())))
                results.update(self._collect())
        finally:
            self._dismiss()
        changed(len(results), ())
        return [results[place] for place in range(len(tasks))]

    def _in_work(self) -> Iterator[int]:
        return (worker.task for worker in self._workers if worker.task is not None)

    def _staff(self, waiting: int) -> None:
        """Start processes while tasks wait for one, unless they keep dying at once."""
        idle = sum(worker.task is None for worker in self._workers)
        while len(self._workers) < self._most and idle < waiting and self._false_starts < MOST_FALSE_STARTS:
            try:
                self._workers.append(_hire(self._work, self._limits, [worker.line for worker in self._workers]))
                idle += 1
            except OSError:  # no process or no memory left: perhaps later, when others have ended
                self._false_starts += 1

    def _hand_out(self, tasks: Sequence[Task], waiting: list[int]) -> None:
        for worker in self._workers:
            if worker.ready and worker.task is None and waiting:
                try:
                    worker.line.send(tasks[waiting[-1]])
                except OSError:
                    continue  # it has just died; collecting will see that
                worker.task = waiting.pop()
                worker.deadline = time.monotonic() + CLOCK * self._limits.timeout_s

    def _collect(self) -> Iterator[tuple[int, Result | Lost]]:
        """Wait until something happens; yield the tasks that came to an end by it."""
        deadlines = [worker.deadline for worker in self._workers if worker.task is not None]
        patience = max(0.0, min(deadlines) - time.monotonic()) if deadlines else None
        heard = wait([worker.line for worker in self._workers], patience)
        for worker in list(self._workers):
            if worker.line in heard:
                yield from self._hear(worker)
            elif worker.task is not None and time.monotonic() >= worker.deadline:
                worker.process.kill()
                yield worker.task, Lost(f"It hung for {CLOCK * self._limits.timeout_s:g} s and was given up.")
                self._drop(worker)

    def _hear(self, worker: _Worker) -> Iterator[tuple[int, Result | Lost]]:
        try:
            message = worker.line.recv()
        except (EOFError, OSError):
            worker.process.join()
            self._false_starts += not worker.ready
            if worker.task is not None:
                yield worker.task, Lost(_how_it_died(worker.process.exitcode, self._limits))
            self._drop(worker)
            return
        if worker.task is None:
            worker.ready = True
            self._false_starts = 0
        else:
            yield worker.task, message
            worker.task = None

    def _drop(self, worker: _Worker) -> None:
        worker.line.close()
        worker.process.join()
        worker.process.close()
        self._workers.remove(worker)

    def _dismiss(self) -> None:
        for worker in self._workers:
            worker.process.kill()
        for worker in list(self._workers):
            self._drop(worker)


def _how_it_died(exit_code: int | None, limits: BatchSettings) -> str:
    code = exit_code or 0
    if code < 0 and signal.Signals(-code).name == "SIGPROF":
        return f"It took longer than {limits.timeout_s:g} s on the processor and was given up."
    how = f"signal {signal.Signals(-code).name}" if code < 0 else f"exit status {code}"
    return f"The process that converted it died ({how}); a fault in plystitch, or the computer ran out of memory."


def _hire(work: Callable[[Task], Result], limits: BatchSettings, lines: list[Connection]) -> _Worker:
    """A fresh process beside those that are spoken to through ``lines``.

    Forked from a parent that is light, which takes a thousandth of a second; otherwise spawned, which is the same
    on every system and inherits no half-held lock.
    """
    forked = _is_light()
    context: Any = multiprocessing.get_context("fork" if forked else "spawn")
    ours, theirs = context.Pipe()
    inherited = [*lines, ours] if forked else []
    process = context.Process(target=_serve, args=(theirs, work, limits, inherited), daemon=True)
    with _single_threaded():
        process.start()
    theirs.close()
    return _Worker(process, ours)


def _is_light() -> bool:
    """Whether this process can be forked safely: Linux, one thread, and no library that starts threads itself."""
    return sys.platform == "linux" and threading.active_count() == 1 and "numpy" not in sys.modules


@contextmanager
def _single_threaded() -> Iterator[None]:
    before = {name: os.environ.get(name) for name in THREAD_LIMITS}
    os.environ.update(dict.fromkeys(THREAD_LIMITS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def _serve(
    line: Connection, work: Callable[[Task], Result], limits: BatchSettings, inherited: Sequence[Connection]
) -> None:
    """A process's life: say that it is ready, then answer every task, until the other end is closed.

    Ends of lines that it has ``inherited`` are closed: held open, they would hide the parent's death.
    """
    for end in inherited:
        end.close()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent stops the batch
    _limit_memory(limits.memory_mib)
    line.send(None)
    while True:
        try:
            task = line.recv()
        except EOFError:
            return
        with _limited_time(limits.timeout_s):
            result = work(task)
        line.send(result)


@contextmanager
def _limited_time(seconds: float) -> Iterator[None]:
    """Let the system end this process once it has used so much processor time, wherever it then is."""
    if not hasattr(signal, "setitimer"):
        yield
        return
    signal.signal(signal.SIGPROF, signal.SIG_DFL)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)


def _limit_memory(memory_mib: int) -> None:
    """Bound this process's address space, unless it is bounded closer already or the system cannot do it."""
    if resource is None:
        return
    hard = resource.getrlimit(resource.RLIMIT_AS)[1]
    most = memory_mib * 2**20
    if hard == resource.RLIM_INFINITY or most < hard:
        with suppress(ValueError, OSError):
            resource.setrlimit(resource.RLIMIT_AS, (most, hard))
