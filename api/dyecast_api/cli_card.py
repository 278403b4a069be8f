"""The commands `dyecast card` and `dyecast card-values`: printing the card and knowing its colours."""

from collections.abc import Mapping
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dyecast_api import transfer_stage
from dyecast_api.card_choice import one_layout
from dyecast_api.opencv_check import import_opencv
from dyecast_api.terminal import print_result, print_trouble

if TYPE_CHECKING:
    from dyecast_calibration.card_layout import CardLayout
    from dyecast_calibration.card_values import CardValues

LAYOUT_HELP = "Name of a card that ships with dyecast: a6 or pocket."
CARD_HELP = "Your own card's layout, instead of one of ours."
PRINT_DPI = 600.0
"""Pixels per inch of a PNG for printing: what a photo printer resolves (common practice, no published
source)."""

card_values_app = typer.Typer(
    no_args_is_help=True, help="Write down the true colours of your printed card, so that verdicts get surer."
)


def card(  # noqa: PLR0913, PLR0917 (one parameter per option is how typer reads a command line)
    layout: Annotated[str, typer.Option("--layout", "-l", metavar="NAME", help=LAYOUT_HELP)] = "a6",
    own: Annotated[Path | None, typer.Option("--card", metavar="LAYOUT.json", help=CARD_HELP)] = None,
    png: Annotated[
        bool | None,
        typer.Option("--png/--pdf", help="Kind of file; without it, by the ending of --out, else PDF."),
    ] = None,
    dpi: Annotated[
        float | None, typer.Option(metavar="NUMBER", help="Pixels per inch of a PNG.  [default: 600]")
    ] = None,
    mirrored: Annotated[
        bool, typer.Option("--mirrored", help="Flip it left to right, for pressing onto a blank.")
    ] = False,
    page: Annotated[str, typer.Option(metavar="NAME", help="Paper of a PDF: a4, a5 or letter.")] = "a4",
    out: Annotated[Path | None, typer.Option("--out", "-o", metavar="FILE", help="File to write.")] = None,
) -> None:
    """Write the reference card to print, in its exact size."""
    is_png = _is_png(png, out)
    if dpi is not None and not is_png:
        raise typer.BadParameter("a PDF has no dpi; add --png.", param_hint="--dpi")
    import_opencv()
    chosen = one_layout(layout, own)
    path = out or Path(
        f"dyecast-card-{chosen.name}{'-mirrored' if mirrored else ''}.{'png' if is_png else 'pdf'}"
    )
    if is_png:
        _write_png(chosen, path, PRINT_DPI if dpi is None else dpi, mirrored)
    else:
        _write_pdf(chosen, path, page, mirrored)
    print_result(f"{path}: card {chosen.name}, edition {chosen.edition}.")
    print_trouble("Print it at 100 %, without scaling, and check its ruler.")


def _is_png(png: bool | None, out: Path | None) -> bool:
    """Settle the kind of file; a flag that contradicts the ending of the name is a usage error."""
    by_name = {".png": True, ".pdf": False}.get(out.suffix.lower()) if out is not None else None
    if png is not None and by_name is not None and png != by_name:
        raise typer.BadParameter("the ending of the name says the other kind.", param_hint="--out")
    if png is None:
        return bool(by_name)
    return png


def _write_png(layout: "CardLayout", path: Path, dpi: float, mirrored: bool) -> None:
    from dyecast_calibration.card_png import write_card_png

    write_card_png(path, layout, dpi, mirrored=mirrored, printed_on=_today())


def _write_pdf(layout: "CardLayout", path: Path, page: str, mirrored: bool) -> None:
    from dyecast_calibration.card_pdf import Page, draw_card_pdf

    if page.lower() not in tuple(Page):
        raise typer.BadParameter(f"choose one of {', '.join(Page)}.", param_hint="--page")
    draw_card_pdf(layout, path, mirrored=mirrored, printed_on=_today(), page=Page(page.lower()))


def _today() -> date:
    return datetime.now().astimezone().date()


@card_values_app.command()
def measured(
    file: Annotated[
        Path,
        typer.Argument(metavar="FILE.txt", help="CGATS text, as a spectrophotometer's program exports it."),
    ],
    out: Annotated[Path, typer.Option("--out", "-o", metavar="FILE.json", help="File to write.")],
    layout: Annotated[str, typer.Option("--layout", "-l", metavar="NAME", help=LAYOUT_HELP)] = "a6",
    own: Annotated[Path | None, typer.Option("--card", metavar="LAYOUT.json", help=CARD_HELP)] = None,
) -> None:
    """Take the card's colours from a spectrophotometer's measurements."""
    import_opencv()
    from dyecast_calibration.cgats import measured_values

    chosen = one_layout(layout, own)
    _save(out, measured_values(file, chosen), chosen)


@card_values_app.command()
def transferred(  # noqa: PLR0913, PLR0917 (one parameter per option is how typer reads a command line)
    photos: Annotated[
        list[Path], typer.Argument(metavar="PHOTO", help="Photos of the new card beside the trusted one.")
    ],
    trusted_values: Annotated[
        Path, typer.Option(metavar="FILE.json", help="The trusted card's values, e.g. measured ones.")
    ],
    out: Annotated[Path, typer.Option("--out", "-o", metavar="FILE.json", help="File to write.")],
    layout: Annotated[
        str, typer.Option("--layout", "-l", metavar="NAME", help="The new card: a6 or pocket.")
    ] = "pocket",
    own: Annotated[
        Path | None, typer.Option("--card", metavar="LAYOUT.json", help="The new card's own layout.")
    ] = None,
    trusted_layout: Annotated[
        str, typer.Option(metavar="NAME", help="The trusted card: a6 or pocket.")
    ] = "a6",
    trusted_card: Annotated[
        Path | None, typer.Option(metavar="LAYOUT.json", help="The trusted card's own layout.")
    ] = None,
) -> None:
    """Take a new card's colours from photos that show it beside a card of known colours."""
    read_card_beside = transfer_stage.load_read_card_beside()
    from dyecast_calibration.card_values import load_card_values
    from dyecast_calibration.transferred_values import transferred_values

    new, trusted = one_layout(layout, own), one_layout(trusted_layout, trusted_card)
    known = load_card_values(trusted_values, trusted)
    readings = transfer_stage.readings_of(photos, read_card_beside, new=new, trusted=trusted, known=known)
    source = f"{len(readings)} photos beside card {trusted.name}, edition {trusted.edition} ({known.trust})"
    _save(out, transferred_values(readings, new, source), new)


@card_values_app.command()
def keep(
    file: Annotated[Path, typer.Argument(metavar="FILE.json", help="Card values as the others write them.")],
) -> None:
    """Keep a card's colours with the shop's data: batches and the server correct by them from now on."""
    import_opencv()
    from dyecast_api.batches.kept_artwork import file_bytes
    from dyecast_api.batches.opened_shop import opened_shop
    from dyecast_api.work.keep_card_values import keep_card_values

    content = file_bytes(file)
    with opened_shop() as shop:
        now = datetime.now(UTC)
        kept = keep_card_values(
            shop.engine, shop.store, shop.shop_id, name=file.name, content=content, layout="a6", now=now
        )
    print_result(f"Kept: colours of card {kept.layout}, edition {kept.edition}, {kept.trust}.")


def _save(path: Path, values: "CardValues", layout: "CardLayout") -> None:
    from dyecast_calibration.card_values import save_card_values

    save_card_values(path, values, layout)
    print_result(f"{path}: colours of card {layout.name}, edition {layout.edition}, {values.trust}.")
    if values.spread:
        print_result(_spread_words(values.spread))


def _spread_words(spread: Mapping[str, float]) -> str:
    """Say how far the single readings lie from the colour kept, in CIEDE2000."""
    widest = max(spread, key=lambda patch: spread[patch])
    mean = sum(spread.values()) / len(spread)
    return (
        f"The single readings differ from it by ΔE00 {mean:.1f} on average, "
        f"most on patch {widest}: {spread[widest]:.1f}."
    )
