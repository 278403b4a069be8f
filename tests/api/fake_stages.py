"""A pipeline that answers by the photo's name, for tests of what stands around it.

`good*`, `under*`, `over*` and `retake*` are judged so; `broken*` is no picture; `bent*` raises a retake;
`slow*` takes its time; `fault*` meets an error nobody foresaw. Run as a script it is the command line with
this pipeline in place.
"""

import re
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

from api.inspections import good, over_pressed, retake, under_pressed
from dyecast_api import inspect_stages
from dyecast_api.inspect_stages import InspectStages
from dyecast_inspect.inspection import ColourDifference, Inspection, Reference
from dyecast_inspect.read_artwork import Artwork
from dyecast_shared.errors import CardBent, FileUnreadable, NotAPicture

INSPECTIONS = {"good": good, "under": under_pressed, "over": over_pressed, "retake": retake}


def read_artwork(path: Path, *, printer_profile: Path | None = None) -> Artwork:
    """Take any name for an artwork but `missing*`."""
    if path.name.startswith("missing"):
        raise FileUnreadable("There is no such file.", file=path.name)
    return cast(Artwork, SimpleNamespace(name=path.name, profile=printer_profile, from_approved=False))


def measure_approved(path: Path, artwork: Callable[[], Artwork], **_: Any) -> str:
    """Remember the approved photo by its name."""
    return f"{path.name} approved for {artwork().name}"


def approved_artwork(path: Path, **_: Any) -> Artwork:
    """Let the approved photo stand for an artwork by its name."""
    return cast(Artwork, SimpleNamespace(name=path.name, profile=None, from_approved=True))


def inspect_photo(
    path: Path,
    artwork: Callable[[], Artwork],
    *,
    layouts: Sequence[Any],
    card_values: Mapping[str, Any],
    approved: object,
    shop: object = None,
    paper: str = "unknown",
    progress: Callable[[str], None],
) -> Inspection:
    """Answer by the photo's name, and note in words what it was asked with."""
    progress("Measuring")
    if path.name.startswith("broken"):
        raise NotAPicture("The file is no picture.", file=path.name)
    if path.name.startswith("bent"):
        raise CardBent("The card is bent.", file=path.name)
    if path.name.startswith("fault"):
        raise ZeroDivisionError("division by zero")
    if path.name.startswith("slow"):
        for _ in range(300):
            time.sleep(0.1)  # stages come back to Python often, which is when it hears a signal
    kind = re.split(r"\W", path.name)[0]
    asked = f"Asked with layouts {[layout.name for layout in layouts]}, values {sorted(card_values)}."
    asked = asked if paper == "unknown" else f"{asked} The paper is {paper}."
    asked = asked if shop is None else f"{asked} Graded as {shop} taught."
    wanted = artwork()
    reference = Reference.APPROVED_PIECE if wanted.from_approved else Reference.ARTWORK
    inspection = INSPECTIONS[kind](
        photo=path.name, artwork=wanted.name, notes=(asked,), compared_with=reference
    )
    if approved is None:
        return inspection
    return replace(inspection, delta_e_2000_approved=ColourDifference(1.0, 0.9, 2.0))


FAKE = InspectStages(read_artwork, measure_approved, inspect_photo, lambda path: path.name, approved_artwork)


def load_fake_stages() -> InspectStages:
    """Stand in for `dyecast_api.inspect_stages.load_inspect_stages`."""
    return FAKE


if __name__ == "__main__":
    from dyecast_api.cli import main

    inspect_stages.load_inspect_stages = load_fake_stages
    main()
