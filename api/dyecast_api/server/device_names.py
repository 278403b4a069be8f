"""What a device is called before its owner names it: what its browser says it runs on."""

from collections.abc import Collection
from typing import Final

KINDS: Final = (
    (("iPhone",), "iPhone"),
    (("iPad",), "iPad"),
    (("Android", "Mobile"), "Android phone"),
    (("Android",), "Android tablet"),
    (("Windows",), "Computer"),
    (("Macintosh",), "Computer"),
    (("CrOS",), "Computer"),
    (("Linux",), "Computer"),
)
"""Words of a `User-Agent` that tell a kind, the first line that fits. Source: what browsers send, from
memory. Newer tablets of one maker say that they are computers."""

LONGEST: Final = 190
"""Characters of a name before its number; the database keeps 200."""


def name_by_browser(user_agent: str, otherwise: str) -> str:
    """Return what a browser's `User-Agent` says it runs on, or another name when it says nothing known.

    >>> name_by_browser("Mozilla/5.0 (Linux; Android 10; K) Chrome/120.0 Mobile Safari/537.36", "Phone")
    'Android phone'
    >>> name_by_browser("curl/8.0", "Phone")
    'Phone'
    """
    return next((name for words, name in KINDS if all(word in user_agent for word in words)), otherwise)


def free_name(name: str, taken: Collection[str]) -> str:
    """Return the name, with the first free number from 2 on when it is taken.

    >>> free_name("iPhone", {"iPhone", "iPhone 2"})
    'iPhone 3'
    """
    if name not in taken:
        return name
    numbered = (f"{name[:LONGEST]} {number}" for number in range(2, len(taken) + 3))
    return next(each for each in numbered if each not in taken)
