"""The name of a press, blank, recipe or batch as somebody entered it."""

from typing import Final

from dyecast_shared.errors import PressLogInvalid

LONGEST_NAME: Final = 100
"""Letters; what still fits into one line of a page. Our own choice."""


def entered_name(name: str) -> str:
    """Return a name without blanks around it; raises PressLogInvalid for an empty or very long one."""
    shown = name.strip()
    if not 0 < len(shown) <= LONGEST_NAME:
        raise PressLogInvalid("A name has one to a hundred letters.", field="name")
    return shown
