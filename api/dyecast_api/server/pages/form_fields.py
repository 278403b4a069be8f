"""Forms as they were filled in: read in words, and shown again with what is wrong."""

from types import TracebackType
from typing import ClassVar, Final

from pydantic import BaseModel, ConfigDict

from dyecast_api.server.problems import status_of
from dyecast_shared.errors import BadInput, DyecastError
from dyecast_shared.request_errors import NameTaken, NotFinished, NotFound, RequestInvalid

CORRECTABLE: Final = (BadInput, RequestInvalid, NotFound, NameTaken, NotFinished)
"""Errors that whoever fills a form in can do something about."""

LARGEST: Final = 1_000_000
"""Count above which a number is a slip."""


class FilledIn(BaseModel):
    """A form's fields as text, each empty when nothing was written; unknown ones are passed over."""

    model_config = ConfigDict(extra="ignore", str_max_length=2000)

    kind: ClassVar[str] = ""

    name: str = ""


class Trouble:
    """Catches what is wrong with a form: ``with Trouble(form) as trouble: … return`` and show it after.

    Attributes
    ----------
    form
        As it was filled in.
    error
        What is wrong.
    status
        HTTP status of that.
    """

    def __init__(self, form: FilledIn) -> None:
        self.form = form
        self.error: DyecastError | None = None
        self.status = 200

    def __enter__(self) -> "Trouble":
        """Begin."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> bool:
        """Keep an error that can be corrected, and let any other go on."""
        if not isinstance(error, CORRECTABLE):
            return False
        self.error, self.status = error, status_of(error)
        return True


def given(text: str) -> str | None:
    """Return a field's text, None when nothing was written."""
    return text.strip() or None


def chosen(text: str, what: str) -> int:
    """Return the number of what was chosen from a list; raise RequestInvalid when nothing was."""
    if not (text.isascii() and text.isdecimal() and 0 < int(text[:12]) < 2**31):
        raise RequestInvalid(f"No {what} was chosen.", advice=f"Choose a {what}.", field=what)
    return int(text)


def whole_number(text: str, what: str, field: str) -> int | None:
    """Read a count above zero, None when nothing was written; raise RequestInvalid for anything else."""
    number = text.strip()
    if not number:
        return None
    if not (number.isascii() and number.isdecimal() and 0 < int(number[:12]) <= LARGEST):
        raise RequestInvalid(
            f"The {what} is no whole number above zero.", advice="Correct it, or leave it empty.", field=field
        )
    return int(number)


def part_number(text: str, what: str, field: str) -> float | None:
    """Read a number above zero, None when nothing was written; raise RequestInvalid for anything else."""
    if not text.strip():
        return None
    try:
        number = float(text.strip().replace(",", "."))
    except ValueError:
        number = 0.0
    if not 0.0 < number <= LARGEST:
        raise RequestInvalid(
            f"The {what} is no number above zero.", advice="Correct it, or leave it empty.", field=field
        )
    return number
