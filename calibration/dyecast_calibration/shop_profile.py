"""What a shop has taught: pieces a person approved, and pieces a person labelled, in one readable file.

The file is JSON. It holds figures, no pictures: what was measured on each piece and what the person said.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Final

from dyecast_calibration.grader_model import GRADES
from dyecast_shared.atomic_write import write_atomically
from dyecast_shared.errors import FileUnreadable, ShopFileInvalid, ShopFileNewer, ShopProfileEmpty

FORMAT: Final = "dyecast-shop"
FORMAT_VERSION: Final = 1

APPROVED: Final = "approved"
LABELLED: Final = "labelled"

Lab = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class ColourPair:
    """One of an approved piece's main colours: CIELAB (D50, 2 degree) of the artwork and as measured."""

    intended_lab: Lab
    measured_lab: Lab


@dataclass(frozen=True, slots=True)
class ShopPiece:
    """One piece that a person judged.

    Attributes
    ----------
    number
        Counts up within a profile; never used twice.
    added
        Date and time, ISO 8601 with offset.
    photo, artwork
        File names without folders.
    kind, grade
        ``approved`` (then ``good``) or ``labelled`` with one of the three grades.
    card_trust
        How the card's colours were known.
    signs
        The grader's signs by name, with their uncertainties.
    colours
        Main colours, for approved pieces.
    """

    number: int
    added: str
    photo: str
    artwork: str
    kind: str
    grade: str
    card_trust: str
    signs: Mapping[str, float]
    colours: tuple[ColourPair, ...] = ()


@dataclass(frozen=True, slots=True)
class ShopProfile:
    """All that a shop has taught, in the order it did."""

    pieces: tuple[ShopPiece, ...] = ()

    def with_piece(self, piece: ShopPiece) -> "ShopProfile":
        """Return the profile with one more piece, which gets the next number."""
        number = max((each.number for each in self.pieces), default=0) + 1
        return ShopProfile((*self.pieces, replace(piece, number=number)))

    def without_last(self) -> tuple["ShopProfile", ShopPiece]:
        """Return the profile without the piece taught last, and that piece; raises ShopProfileEmpty."""
        if not self.pieces:
            raise ShopProfileEmpty("There is nothing to undo: the profile holds no piece.")
        return ShopProfile(self.pieces[:-1]), self.pieces[-1]

    def joined(self, other: "ShopProfile") -> "ShopProfile":
        """Return the profile with those pieces of another that it does not hold yet."""
        known = {(piece.photo, piece.added) for piece in self.pieces}
        joined = self
        for piece in other.pieces:
            if (piece.photo, piece.added) not in known:
                joined = joined.with_piece(piece)
        return joined

    def of_kind(self, kind: str) -> tuple[ShopPiece, ...]:
        """Return the approved or the labelled pieces."""
        return tuple(piece for piece in self.pieces if piece.kind == kind)


def read_shop_profile(path: Path) -> ShopProfile:
    """Read a profile.

    Raises FileUnreadable, ShopFileInvalid for a file that is damaged or no profile, ShopFileNewer for one
    that a newer dyecast wrote.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as problem:
        raise FileUnreadable("The shop profile could not be read.", file=path.name) from problem
    try:
        record = json.loads(text)
    except (ValueError, RecursionError) as problem:
        raise ShopFileInvalid("The file is not readable as JSON.", file=path.name) from problem
    return profile_from(record, path.name)


def write_shop_profile(path: Path, profile: ShopProfile) -> None:
    """Write a profile whole or not at all; raises OutputFailed."""
    write_atomically(path, (json.dumps(record_of(profile), indent=2) + "\n").encode())


def record_of(profile: ShopProfile) -> dict[str, Any]:
    """Return the profile's JSON record."""
    pieces = [asdict(piece) for piece in profile.pieces]
    return {"format": FORMAT, "format_version": FORMAT_VERSION, "pieces": pieces}


def profile_from(record: object, file: str) -> ShopProfile:
    """Build a profile from its JSON record; raises ShopFileInvalid or ShopFileNewer."""
    if not isinstance(record, dict) or record.get("format") != FORMAT:
        raise ShopFileInvalid("The file is no shop profile.", file=file)
    version = record.get("format_version")
    if isinstance(version, int) and version > FORMAT_VERSION:
        raise ShopFileNewer(
            f"The profile was written in format {version}, newer than this one reads.", file=file
        )
    try:
        return ShopProfile(tuple(_checked(_pieces(record["pieces"]))))
    except (KeyError, TypeError, ValueError, AttributeError) as problem:
        raise ShopFileInvalid(f"The profile is damaged ({problem}).", file=file) from problem


def _pieces(records: Iterable[Mapping[str, Any]]) -> Iterable[ShopPiece]:
    """Build pieces from their records; what is missing raises KeyError."""
    for record in records:
        colours = tuple(
            ColourPair(_lab(pair["intended_lab"]), _lab(pair["measured_lab"])) for pair in record["colours"]
        )
        yield ShopPiece(
            number=int(record["number"]),
            added=str(record["added"]),
            photo=str(record["photo"]),
            artwork=str(record["artwork"]),
            kind=str(record["kind"]),
            grade=str(record["grade"]),
            card_trust=str(record["card_trust"]),
            signs={str(name): float(value) for name, value in record["signs"].items()},
            colours=colours,
        )


def _checked(pieces: Iterable[ShopPiece]) -> Iterable[ShopPiece]:
    """Pass pieces on whose words are known."""
    for piece in pieces:
        if piece.kind not in {APPROVED, LABELLED} or piece.grade not in GRADES:
            raise ValueError(f"piece {piece.number} is {piece.kind} as {piece.grade}")
        yield piece


def _lab(values: Iterable[float]) -> Lab:
    """Return three numbers."""
    lightness, a, b = (float(value) for value in values)
    return lightness, a, b
