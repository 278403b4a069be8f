"""Work done in a thread of its own while something else goes on."""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import TypeVar

Result = TypeVar("Result")


@contextmanager
def meanwhile(work: Callable[[], Result]) -> Iterator[Callable[[], Result]]:
    """Begin some work, and give a function that waits for its result or raises what the work raised.

    Leaving the context waits for the work to end, whether or not anybody asked for its result.
    """
    with ThreadPoolExecutor(max_workers=1) as pool:
        yield pool.submit(work).result
