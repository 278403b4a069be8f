"""Run one function over many cases, in turn or in several processes, telling progress on stderr."""

import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from typing import TypeVar

Case = TypeVar("Case")
Result = TypeVar("Result")

TOLD_EVERY = 10
"""Cases between two lines of progress."""


def in_turn(
    function: Callable[[Case], Result], cases: Sequence[Case], *, jobs: int, what: str
) -> list[Result]:
    """Return the function's result for every case, in their order; `jobs` processes when more than one."""
    if jobs <= 1:
        return list(told(map(function, cases), len(cases), what))
    with ProcessPoolExecutor(jobs) as pool:
        return list(told(pool.map(function, cases), len(cases), what))


def told(results: Iterable[Result], count: int, what: str) -> Iterator[Result]:
    """Pass results on, saying now and then how far it has come."""
    start = time.perf_counter()
    for done, result in enumerate(results, 1):
        if done % TOLD_EVERY == 0 or done == count:
            print(f"{what}: {done}/{count}, {time.perf_counter() - start:.0f} s", file=sys.stderr, flush=True)
        yield result
