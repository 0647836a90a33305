"""The pool alone."""

from __future__ import annotations

import os
import time

from pipeline.batch.pool import MOST_FALSE_STARTS, Lost, Pool
from pipeline.batch_settings import BatchSettings

LIMITS = BatchSettings(60.0, 2048)


def double(number: int) -> int:
    return 2 * number


def slow_first(number: int) -> tuple[int, int]:
    time.sleep(0.3 if number == 0 else 0.0)
    return number, os.getpid()


def die_on_odd(number: int) -> int:
    if number % 2:
        os._exit(7)
    return number


def unheard(done: int, in_work: tuple[int, ...]) -> None:
    pass


def test_results_come_in_the_order_of_the_tasks() -> None:
    found = Pool(slow_first, 2, LIMITS).run(range(6), unheard)
    assert [result[0] for result in found if not isinstance(result, Lost)] == list(range(6))


def test_a_dead_process_costs_its_task_and_is_replaced() -> None:
    found = Pool(die_on_odd, 2, LIMITS).run(range(4), unheard)
    assert [isinstance(result, Lost) for result in found] == [False, True, False, True]


def test_no_tasks_start_no_process() -> None:
    pool = Pool(double, 4, LIMITS)
    assert pool.run([], unheard) == []


def test_processes_that_cannot_start_do_not_hold_up_the_batch() -> None:
    from dies_at_import import double_nowhere  # not above: the other tests' processes import this module

    found = Pool(double_nowhere, 2, LIMITS).run(range(5), unheard)
    assert all(isinstance(result, Lost) for result in found)
    assert len(found) == 5
    assert MOST_FALSE_STARTS < 5
