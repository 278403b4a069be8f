"""What colour each patch of a card really has, and how far that is to be trusted.

Colours are CIELAB, D50, 2 degree observer. A card starts with the values it was designed with; a
spectrophotometer (`dyecast_calibration.cgats`) or photos beside a trusted card
(`dyecast_calibration.transferred_values`) give it better ones, which are kept in a card values file.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

import numpy as np

from dyecast_calibration.card_layout import CardLayout, Patch
from dyecast_calibration.json_fields import (
    field_of,
    integer_field,
    is_finite_number,
    list_field,
    read_json_record,
    record_of,
    text_field,
    triple_of,
)
from dyecast_shared.atomic_write import write_atomically
from dyecast_shared.encodings import srgb8_to_lab
from dyecast_shared.errors import CardFileInvalid

Lab = tuple[float, float, float]
"""L*, a*, b*: CIELAB, D50, 2 degree observer."""

FORMAT_NAME = "dyecast card values"
FORMAT_VERSION = 1

LIGHTNESS_RANGE = (-2.0, 105.0)
"""L* a reading of a print can have: below zero by noise in the darks only, above 100 (the perfect diffuser)
on paper with brightener only. Our own bounds."""

OPPONENT_RANGE = (-150.0, 150.0)
"""a* and b* a surface can have; real surfaces stay well inside. Our own bound, to catch misread columns."""


class Trust(StrEnum):
    """Where a card's values come from, in the words a report prints."""

    AS_DESIGNED = "as designed"
    MEASURED = "measured"
    TRANSFERRED = "transferred"


@dataclass(frozen=True, slots=True)
class CardValues:
    """The colours of one printed card.

    Attributes
    ----------
    trust
        Where they come from.
    lab_d50
        L*, a*, b* (D50, 2 degree) for the id of every patch.
    white_lab
        The same for the bare paper of the white areas; (100, 0, 0) as designed, None when unknown.
    source
        One line a person can read: the design, the measurement file, or the photos.
    spread
        Mean CIEDE2000 of the single readings from the value kept, for each patch read more than once;
        None when there is none.
    """

    trust: Trust
    lab_d50: dict[str, Lab]
    white_lab: Lab | None
    source: str
    spread: dict[str, float] | None


def designed_values(layout: CardLayout) -> CardValues:
    """Return the colours the card was designed with: a perfect print on perfectly white paper.

    A patch that carries `lab_d50` keeps it; else its sRGB goes to D50 by the Bradford transform (ICC.1).
    """
    return CardValues(
        trust=Trust.AS_DESIGNED,
        lab_d50={patch.id: _designed_lab(patch) for patch in layout.patches},
        white_lab=(100.0, 0.0, 0.0),
        source=f"design of card {layout.name}, edition {layout.edition}",
        spread=None,
    )


def _designed_lab(patch: Patch) -> Lab:
    if patch.lab_d50 is not None:
        return patch.lab_d50
    lightness, a, b = srgb8_to_lab(np.array(patch.srgb, dtype=np.uint8)).tolist()
    return (lightness, a, b)


def lab_is_plausible(lab: Lab) -> bool:
    """Tell whether L*, a*, b* can be a reading of a print."""
    lightness, a, b = lab
    return LIGHTNESS_RANGE[0] <= lightness <= LIGHTNESS_RANGE[1] and all(
        OPPONENT_RANGE[0] <= opponent <= OPPONENT_RANGE[1] for opponent in (a, b)
    )


def white_names(layout: CardLayout) -> frozenset[str]:
    """Return the names, in lower case, under which a reading of the bare paper may be listed."""
    return frozenset({"white", "paper"} | {area.id.lower() for area in layout.white_areas}) - {
        patch.id.lower() for patch in layout.patches
    }


def bare_paper(lab_d50: Mapping[str, Lab], layout: CardLayout) -> Lab | None:
    """Return the value of the patch printed from sRGB white, which is bare paper, or None without one."""
    for patch in layout.patches:
        if patch.srgb == (255, 255, 255):
            return lab_d50[patch.id]
    return None


def save_card_values(path: Path, values: CardValues, layout: CardLayout) -> None:
    """Write a card values file: JSON with its format, version and the card it belongs to.

    Raises OutputFailed when it cannot be written; nothing half-written is left behind.
    """
    record = {
        "format": FORMAT_NAME,
        "version": FORMAT_VERSION,
        "card": layout.name,
        "edition": layout.edition,
        "marker_ids": sorted(layout.marker_ids()),
        "colour": "CIELAB, D50, 2 degree observer",
        "trust": values.trust.value,
        "source": values.source,
        "white_lab": values.white_lab,
        "lab_d50": values.lab_d50,
        "spread_delta_e_2000": values.spread,
    }
    write_atomically(path, _one_line_per_entry(record).encode("utf-8"))


def _one_line_per_entry(record: dict[str, Any]) -> str:
    lines = []
    for name, value in record.items():
        if isinstance(value, dict):
            entries = ",\n".join(f"  {json.dumps(key)}: {json.dumps(item)}" for key, item in value.items())
            lines.append(f" {json.dumps(name)}: {{\n{entries}\n }}")
        else:
            lines.append(f" {json.dumps(name)}: {json.dumps(value, ensure_ascii=False)}")
    return "{\n" + ",\n".join(lines) + "\n}\n"


def load_card_values(path: Path, layout: CardLayout) -> CardValues:
    """Read the card values file of this layout.

    Raises
    ------
    FileUnreadable
        The file is missing or may not be read.
    CardFileInvalid
        It is no card values file, of a later version, of another card or edition, or damaged.
    """
    file = path.name
    record = read_json_record(path)
    _check_belongs(record, layout, file)
    trust = text_field(record, "trust", "the file", file)
    if trust not in tuple(Trust):
        raise CardFileInvalid(f"The file's 'trust' must be one of: {', '.join(Trust)}.", file=file)
    white = field_of(record, "white_lab", "the file", file)
    return CardValues(
        trust=Trust(trust),
        lab_d50=_patch_colours(record, layout, file),
        white_lab=None if white is None else _colour(white, "white_lab", "the file", file),
        source=text_field(record, "source", "the file", file),
        spread=_spread(record.get("spread_delta_e_2000"), layout, file),
    )


def _check_belongs(record: dict[str, Any], layout: CardLayout, file: str) -> None:
    if record.get("format") != FORMAT_NAME:
        raise CardFileInvalid("The file is no dyecast card values file.", file=file)
    version = integer_field(record, "version", "the file", file)
    if version != FORMAT_VERSION:
        raise CardFileInvalid(
            f"The file has version {version}; this dyecast reads version {FORMAT_VERSION}.", file=file
        )
    card = text_field(record, "card", "the file", file)
    edition = integer_field(record, "edition", "the file", file)
    same_markers = list_field(record, "marker_ids", "the file", file) == sorted(layout.marker_ids())
    if (card, edition) != (layout.name, layout.edition) or not same_markers:
        raise CardFileInvalid(
            f"The values belong to card {card}, edition {edition}, not to {layout.name}, "
            f"edition {layout.edition}.",
            file=file,
        )


def _patch_colours(record: dict[str, Any], layout: CardLayout, file: str) -> dict[str, Lab]:
    colours = record_of(field_of(record, "lab_d50", "the file", file), "'lab_d50'", file)
    _check_patch_ids(colours, layout, file)
    return {
        patch.id: _colour(colours[patch.id], "lab_d50", f"patch {patch.id}", file) for patch in layout.patches
    }


def _check_patch_ids(entries: dict[str, Any], layout: CardLayout, file: str) -> None:
    missing = [patch.id for patch in layout.patches if patch.id not in entries]
    if missing:
        raise CardFileInvalid(f"There is no value for patch {', '.join(missing)}.", file=file)
    _check_known(entries, layout, file)


def _check_known(entries: dict[str, Any], layout: CardLayout, file: str) -> None:
    expected = {patch.id for patch in layout.patches}
    unknown = [identity for identity in entries if identity not in expected]
    if unknown:
        raise CardFileInvalid(f"The card has no patch {', '.join(unknown)}.", file=file)


def _colour(value: object, name: str, where: str, file: str) -> Lab:
    lab = triple_of(value, name, where, file)
    if not lab_is_plausible(lab):
        raise CardFileInvalid(f"{where[:1].upper()}{where[1:]}: '{name}' is no colour of a print.", file=file)
    return lab


def _spread(value: object, layout: CardLayout, file: str) -> dict[str, float] | None:
    if value is None:
        return None
    entries = record_of(value, "'spread_delta_e_2000'", file)
    _check_known(entries, layout, file)
    for identity, difference in entries.items():
        if not is_finite_number(difference) or difference < 0:
            raise CardFileInvalid(
                f"Patch {identity}: 'spread_delta_e_2000' must be a number, zero or more.", file=file
            )
    return {identity: float(difference) for identity, difference in entries.items()}
