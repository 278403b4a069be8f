"""Which cards a photo may show, and what is known about their colours."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from dyecast_calibration.card_layout import CardLayout
    from dyecast_calibration.card_values import CardValues


def one_layout(name: str, file: Path | None) -> "CardLayout":
    """Return the layout in `file`, or without a file the shipped one called `name`.

    Raises FileUnreadable or CardFileInvalid; the latter names the shipped layouts when there is no such one.
    """
    from dyecast_calibration.card_layout import layout_named, load_card_layout

    return layout_named(name) if file is None else load_card_layout(file)


def layouts_to_look_for(file: Path | None) -> "tuple[CardLayout, ...]":
    """Return the layout in `file` alone, or without a file every layout that ships with dyecast."""
    from dyecast_calibration.card_layout import known_layouts, load_card_layout

    return known_layouts() if file is None else (load_card_layout(file),)


def values_by_layout(files: Sequence[Path], layouts: "Sequence[CardLayout]") -> "Mapping[str, CardValues]":
    """Read card values files; return them by the name of the layout each belongs to.

    Raises
    ------
    FileUnreadable
        A file is missing or may not be read.
    CardFileInvalid
        A file is no card values file, or belongs to none of the layouts.

    """
    from dyecast_calibration.card_values import load_card_values

    values = {}
    for file in files:
        layout = _layout_of_values(file, layouts)
        values[layout.name] = load_card_values(file, layout)
    return values


def _layout_of_values(file: Path, layouts: "Sequence[CardLayout]") -> "CardLayout":
    """Return the layout a values file names; the first one for a file that names none of them."""
    from dyecast_calibration.json_fields import read_json_record

    named = read_json_record(file).get("card")
    return next((layout for layout in layouts if layout.name == named), layouts[0])
