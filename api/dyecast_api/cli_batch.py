"""The command group `dyecast batch`: from the first piece to the certificate."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dyecast_api.cli_press_log import check_person
from dyecast_api.exit_status import STATUS_OF_VERDICT
from dyecast_api.press_log.entered_moment import entered_moment
from dyecast_api.printable_text import printable
from dyecast_api.terminal import PhotoProgress, print_result

if TYPE_CHECKING:
    from dyecast_api.batches.batch_steps import Decision
    from dyecast_api.batches.batch_values import Batch
    from dyecast_api.batches.opened_shop import OpenedShop
    from dyecast_api.batches.whole_batch import WholeBatch

batch_app = typer.Typer(
    no_args_is_help=True,
    help="Watch a batch: approve its first piece, inspect more, see drift early, close with a certificate.",
)

BatchName = Annotated[str, typer.Argument(metavar="BATCH", help="Which batch; see 'dyecast batch list'.")]
By = Annotated[str, typer.Option("--by", metavar="NAME", help="Who says so.")]
Reason = Annotated[str, typer.Option("--reason", help="Why.")]
Out = Annotated[Path | None, typer.Option("--out", "-o", metavar="FOLDER", help="Folder to write into.")]


@batch_app.command()
def start(  # noqa: PLR0913, PLR0917 (one parameter per option)
    name: Annotated[str, typer.Argument(metavar="BATCH", help="What you call it.")],
    recipe: Annotated[str, typer.Option(metavar="NAME", help="By which recipe; see 'dyecast press list'.")],
    artwork: Annotated[
        Path, typer.Option("--artwork", "-a", metavar="FILE", help="What the pieces should show.")
    ],
    pieces: Annotated[int | None, typer.Option(min=1, help="How many there are to be.")] = None,
    every: Annotated[int | None, typer.Option(min=1, help="Inspect every n-th piece; else each.")] = None,
    accept_at: Annotated[
        float | None,
        typer.Option(metavar="PERCENT", help="Accept the lot by ISO 2859-1 at this quality limit, e.g. 2.5."),
    ] = None,
    tightened: Annotated[bool, typer.Option("--tightened", help="Tightened instead of normal.")] = False,
) -> None:
    """Start a batch on a recipe and an artwork."""
    from dyecast_api.batches.batch_rows import add_batch
    from dyecast_api.batches.kept_artwork import keep_artwork
    from dyecast_api.batches.lot_acceptance import entered_sampling, sampling_words
    from dyecast_api.batches.opened_shop import opened_shop
    from dyecast_api.batches.starting import BatchOrder, started_batch
    from dyecast_api.press_log.log_rows import recipe_named
    from dyecast_api.store.database import reading, writing

    now = datetime.now(UTC)
    entered_sampling(accept_at, pieces, tightened=tightened)  # refused before the artwork is kept
    order = BatchOrder(name, pieces, every, accept_at, tightened)
    with opened_shop() as shop:
        with reading(shop.engine) as connection:
            known = recipe_named(connection, shop.shop_id, recipe)
        kept = keep_artwork(shop, artwork, now)
        batch = started_batch(order, known.number, kept, now)
        with writing(shop.engine) as connection:
            add_batch(connection, shop.shop_id, batch)
    print_result(printable(f"Started: {batch.name}, {known.name}, {kept.name}."))
    if told := sampling_words(batch):
        print_result(told)
    print_result("Now press one piece and add its photo with 'dyecast batch add'.")


@batch_app.command()
def add(  # noqa: PLR0913, PLR0917 (one parameter per option)
    batch: BatchName,
    photo: Annotated[Path, typer.Argument(metavar="PHOTO", help="Photo of the piece beside the card.")],
    piece: Annotated[int | None, typer.Option(min=1, help="The piece's number in the batch.")] = None,
    at: Annotated[
        str | None,
        typer.Option(metavar="MOMENT", help="When it was pressed, e.g. 2026-05-04T14:30."),
    ] = None,
    lost: Annotated[bool, typer.Option("--lost", help="The blank was thrown away.")] = False,
    note: Annotated[str, typer.Option(help="Anything worth remembering.")] = "",
) -> None:
    """Inspect the next piece; exit status as of 'dyecast inspect'."""
    from dyecast_api.batches.batch_pieces import add_piece, check_addable, keep_inspection
    from dyecast_api.batches.bench_pieces import up_to_date
    from dyecast_api.batches.inspected_piece import PieceEntry, check_judged, inspected_photo, pressing_of
    from dyecast_api.batches.opened_shop import opened_shop
    from dyecast_api.press_log.log_rows import all_recipes
    from dyecast_api.store.database import reading, writing

    now = datetime.now(UTC)
    entry = PieceEntry(now if at is None else entered_moment(at), piece, lost=lost, note=note)
    with opened_shop() as shop:
        seen = up_to_date(shop, batch, now)
        with reading(shop.engine) as connection:
            check_addable(connection, shop.shop_id, seen)
            (recipe,) = (one for one in all_recipes(connection, shop.shop_id) if one.number == seen.recipe_id)
        with PhotoProgress(1) as progress:
            inspected, sha256 = inspected_photo(shop, seen, photo, progress.say)
        if inspected.result.verdict == "retake":
            with writing(shop.engine) as connection:
                keep_inspection(connection, shop.shop_id, seen, inspected, now)
            check_judged(inspected)
        pressing = pressing_of(recipe, entry, inspected, sha256, now)
        with writing(shop.engine) as connection:
            _, kept = add_piece(connection, shop.shop_id, seen, pressing, inspected)
        _tell_piece(shop, batch, kept.piece_number or 0)
    raise typer.Exit(STATUS_OF_VERDICT[kept.grade or "retake"])


@batch_app.command()
def approve(batch: BatchName, by: By, reason: Reason = "") -> None:
    """Approve the first piece: the others are held against it."""
    from dyecast_api.batches.batch_steps import approve_first_piece

    decided = _decide(batch, _decision(by, reason), approve_first_piece)
    print_result(printable(f"Approved: the first piece of {decided.name}, by {by}."))


@batch_app.command()
def hold(
    batch: BatchName, by: By, reason: Annotated[str, typer.Option("--reason", help="Why it is not approved.")]
) -> None:
    """Hold the first piece: change what is wrong, press another, and add it."""
    from dyecast_api.batches.batch_steps import hold_first_piece

    decided = _decide(batch, _decision(by, reason), hold_first_piece)
    print_result(printable(f"Held: the first piece of {decided.name}, by {by}. The next piece added is it."))


@batch_app.command()
def show(batch: BatchName, out: Out = None) -> None:
    """Show a batch: its pieces, and what its charts say; with --out as a page with the charts."""
    from dyecast_api.batches.batch_page import batch_page
    from dyecast_api.batches.batch_text import batch_text
    from dyecast_api.batches.bench_pieces import up_to_date
    from dyecast_api.batches.opened_shop import opened_shop
    from dyecast_api.batches.whole_batch import first_piece_pictures, whole_batch
    from dyecast_api.output_files import made_folder, write_file

    with opened_shop() as shop:
        whole = whole_batch(shop, up_to_date(shop, batch, datetime.now(UTC)).name)
        pictures = {} if out is None else first_piece_pictures(shop, whole)
    print_result(batch_text(whole))
    _tell_decision(whole)
    if out is not None:
        with made_folder(out):
            write_file(out / "batch.html", batch_page(whole, pictures).encode("utf-8", "replace"))
        print_result(printable(f"Page: {out / 'batch.html'}"))


@batch_app.command()
def close(
    batch: BatchName,
    by: By,
    out: Out = None,
    give_up: Annotated[
        bool, typer.Option("--give-up", help="Close it without a certificate; say why with --reason.")
    ] = False,
    reason: Reason = "",
) -> None:
    """Close a batch with its certificate; with --out it is written there as PDF and JSON."""
    from dyecast_api.batches.batch_steps import close_batch
    from dyecast_api.batches.bench_pieces import up_to_date
    from dyecast_api.batches.closing import closed_with_certificate
    from dyecast_api.batches.opened_shop import opened_shop
    from dyecast_api.store.database import writing

    decision = _decision(by, reason)
    if give_up and not reason.strip():
        raise typer.BadParameter("a batch is given up for a --reason.", param_hint="--give-up")
    with opened_shop() as shop:
        seen = up_to_date(shop, batch, decision.at)
        if give_up:
            with writing(shop.engine) as connection:
                close_batch(connection, shop.shop_id, seen, decision, None)
        else:
            closed_with_certificate(shop, batch, decision)
    print_result(printable(f"{'Given up' if give_up else 'Closed'}: {batch}, by {by}."))
    if out is not None and not give_up:
        certificate(batch, out)


@batch_app.command()
def certificate(
    batch: BatchName,
    out: Annotated[Path, typer.Option("--out", "-o", metavar="FOLDER", help="Folder to write into.")],
) -> None:
    """Write a closed batch's certificate, as it was when it was closed: PDF and JSON."""
    from dyecast_api.batches.closing import kept_certificate
    from dyecast_api.batches.opened_shop import opened_shop
    from dyecast_api.output_files import made_folder, write_together

    with opened_shop() as shop:
        pdf, document = kept_certificate(shop, batch)
    with made_folder(out):
        write_together({out / "certificate.json": document, out / "certificate.pdf": pdf})
    print_result(printable(f"Certificate: {out / 'certificate.pdf'} and certificate.json"))


@batch_app.command()
def schema() -> None:
    """Print the JSON Schema of a certificate."""
    from dyecast_api.batches.certificate import certificate_schema

    print_result(certificate_schema().rstrip())


@batch_app.command("list")
def list_batches() -> None:
    """List the batches, oldest first."""
    from dyecast_api.batches.batch_pieces import pieces_of
    from dyecast_api.batches.batch_rows import all_batches
    from dyecast_api.batches.batch_words import batch_line
    from dyecast_api.batches.opened_shop import opened_shop
    from dyecast_api.store.database import reading

    with opened_shop() as shop, reading(shop.engine) as connection:
        lines = [
            batch_line(batch, len(pieces_of(connection, shop.shop_id, batch)))
            for batch in all_batches(connection, shop.shop_id)
        ]
    print_result("\n".join(lines) or "No batch was started yet.")


def _decide(name: str, decision: "Decision", step: "Callable[..., Batch]") -> "Batch":
    """Let a person decide on a batch's first piece; return the batch as it is then."""
    from dyecast_api.batches.bench_pieces import up_to_date
    from dyecast_api.batches.opened_shop import opened_shop
    from dyecast_api.store.database import writing

    with opened_shop() as shop:
        seen = up_to_date(shop, name, decision.at)
        with writing(shop.engine) as connection:
            return step(connection, shop.shop_id, seen, decision)


def _decision(by: str, reason: str) -> "Decision":
    from dyecast_api.batches.batch_steps import Decision

    check_person(by, "--by")
    return Decision(by.strip(), datetime.now(UTC), reason)


def _tell_piece(shop: "OpenedShop", name: str, number: int) -> None:
    """Print a piece that was just kept, what the charts say of it, and what to do now."""
    from dyecast_api.batches.batch_words import clock_notes, piece_line
    from dyecast_api.batches.whole_batch import whole_batch

    whole = whole_batch(shop, name)
    print_result(piece_line(next(piece for piece in whole.pieces if piece.number == number)))
    for note in clock_notes(whole.pieces):
        print_result(note)
    for sentence in (*whole.next_step, *whole.charts.sentences) if whole.counted else whole.next_step:
        print_result(printable(sentence))
    _tell_decision(whole)


def _tell_decision(whole: "WholeBatch") -> None:
    """Print the commands for a first piece that waits to be decided on."""
    if whole.must_decide:
        print_result("'dyecast batch approve' approves it, 'dyecast batch hold' holds it.")
