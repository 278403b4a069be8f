"""The command `dyecast calibrate`: teaching dyecast what good looks like in this shop."""

from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dyecast_api.card_choice import layouts_to_look_for, values_by_layout
from dyecast_api.opencv_check import import_opencv
from dyecast_api.printable_text import printable
from dyecast_api.profile_place import profile_place
from dyecast_api.terminal import print_result

if TYPE_CHECKING:
    from dyecast_calibration.shop_profile import ShopPiece, ShopProfile

calibrate_app = typer.Typer(
    no_args_is_help=True, help="Teach dyecast what good looks like in your shop, piece by piece."
)


class GradeWord(StrEnum):
    """What a person says of a piece."""

    UNDER = "under"
    GOOD = "good"
    OVER = "over"


GRADE_OF = {GradeWord.UNDER: "under-pressed", GradeWord.GOOD: "good", GradeWord.OVER: "over-pressed"}

Photos = Annotated[list[Path], typer.Argument(metavar="PHOTO", help="Photos of pieces beside the card.")]
Artwork = Annotated[
    Path, typer.Option("--artwork", "-a", metavar="FILE", help="What the pieces should show.")
]
CardValues = Annotated[
    list[Path] | None, typer.Option(metavar="FILE.json", help="Measured colours of the card.")
]
Profile = Annotated[
    Path | None,
    typer.Option(
        "--profile", metavar="FILE.json", help="Shop profile, instead of the one in your data folder."
    ),
]


@calibrate_app.command()
def approve(
    photos: Photos, artwork: Artwork, card_values: CardValues = None, profile: Profile = None
) -> None:
    """Add pieces that a person approved: they say what good looks like here."""
    _teach(photos, artwork, card_values, profile, GradeWord.GOOD, approved=True)


@calibrate_app.command()
def label(
    photos: Photos,
    artwork: Artwork,
    grade: Annotated[GradeWord, typer.Option("--as", help="What you say of these pieces.")],
    card_values: CardValues = None,
    profile: Profile = None,
) -> None:
    """Add pieces that a person graded: they move the limits towards yours."""
    _teach(photos, artwork, card_values, profile, grade, approved=False)


@calibrate_app.command("list")
def list_pieces(profile: Profile = None) -> None:
    """List what was taught, and what dyecast made of it."""
    _tell(_read(profile or profile_place()))


@calibrate_app.command()
def undo(profile: Profile = None) -> None:
    """Take the last piece back."""
    from dyecast_calibration.shop_profile import write_shop_profile

    place = profile or profile_place()
    left, taken = _read(place).without_last()
    write_shop_profile(place, left)
    print_result(f"Taken back: {_line(taken)}")


@calibrate_app.command("export")
def export_profile(
    out: Annotated[Path, typer.Argument(metavar="FILE.json", help="File to write.")], profile: Profile = None
) -> None:
    """Write the profile to a file: for another computer, or for safe keeping."""
    from dyecast_calibration.shop_profile import write_shop_profile

    kept = _read(profile or profile_place())
    write_shop_profile(out, kept)
    print_result(printable(f"{out}: {_pieces(len(kept.pieces))}."))


@calibrate_app.command("import")
def import_profile(
    file: Annotated[Path, typer.Argument(metavar="FILE.json", help="An exported profile.")],
    profile: Profile = None,
) -> None:
    """Add the pieces of an exported profile to this one; those that are here already stay as they are."""
    place = profile or profile_place()
    from dyecast_calibration.shop_profile import read_shop_profile

    here, added = _read(place), read_shop_profile(file)
    joined = here.joined(added)
    _write(place, joined)
    print_result(f"{_pieces(len(joined.pieces) - len(here.pieces))} added, {len(joined.pieces)} in all.")


def _teach(  # noqa: PLR0913 (what both commands share)
    photos: list[Path],
    artwork: Path,
    card_values: list[Path] | None,
    profile: Path | None,
    grade: GradeWord,
    *,
    approved: bool,
) -> None:
    """Measure photos and add them, each written as soon as it is measured."""
    import_opencv()
    from dyecast_inspect.pipeline import measure_photo
    from dyecast_inspect.read_artwork import read_artwork
    from dyecast_inspect.teach_shop import taught

    place = profile or profile_place()
    layouts = layouts_to_look_for(None)
    values = values_by_layout(tuple(card_values or ()), layouts)
    wanted, known = read_artwork(artwork), _read(place)
    for photo in photos:
        measured = measure_photo(photo, wanted, layouts=layouts, card_values=values)
        added = datetime.now(UTC).isoformat(timespec="seconds")
        known = taught(known, measured, wanted, GRADE_OF[grade], approved=approved, added=added)
        _write(place, known)
        print_result(f"Added: {_line(known.pieces[-1])}")
    _tell(known)


def _read(place: Path) -> "ShopProfile":
    """Read the profile; one that is not there yet is empty."""
    from dyecast_calibration.shop_profile import ShopProfile, read_shop_profile

    return read_shop_profile(place) if place.exists() else ShopProfile()


def _write(place: Path, profile: "ShopProfile") -> None:
    """Write the profile, making the data folder when it is the first piece."""
    from dyecast_calibration.shop_profile import write_shop_profile
    from dyecast_shared.errors import OutputFailed

    try:
        place.parent.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise OutputFailed("The folder of the profile could not be made.", file=place.name) from problem
    write_shop_profile(place, profile)


def _pieces(count: int) -> str:
    return f"{count} piece" if count == 1 else f"{count} pieces"


def _line(piece: "ShopPiece") -> str:
    """Return one piece in a line."""
    return printable(f"{piece.number:3} {piece.added[:10]} {piece.kind:8} {piece.grade:13} {piece.photo}")


def _tell(profile: "ShopProfile") -> None:
    """Print the pieces, and in words what they move."""
    from dyecast_calibration.grader_model import trained_grader
    from dyecast_inspect.shop_words import shop_sentences

    for piece in profile.pieces:
        print_result(_line(piece))
    for sentence in shop_sentences(profile, trained_grader()):
        print_result(sentence)
