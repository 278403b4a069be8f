"""A moment as somebody wrote it."""

from datetime import UTC, datetime

from dyecast_shared.errors import PressLogInvalid


def entered_moment(text: str) -> datetime:
    """Read a moment; without a time zone it is this computer's. Raises PressLogInvalid for anything else."""
    try:
        return datetime.fromisoformat(text).astimezone(UTC)
    except (ValueError, OverflowError) as problem:
        raise PressLogInvalid(
            f"'{text}' is no moment.", advice="Write it like 2026-05-04T14:30.", field="pressed_at"
        ) from problem
