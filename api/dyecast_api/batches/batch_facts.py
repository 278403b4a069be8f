"""What a batch is, in pairs of name and words: the same for the page and the certificate."""

from collections import Counter

from dyecast_api.batches.batch_words import ordinal, state_words
from dyecast_api.batches.lot_acceptance import sampling_words
from dyecast_api.batches.whole_batch import WholeBatch
from dyecast_api.press_log.entered_values import settings_words
from dyecast_api.press_log.log_words import blank_line

Facts = tuple[tuple[str, str], ...]


def batch_facts(whole: WholeBatch) -> Facts:
    """Return what the batch is and how far it has come."""
    batch = whole.batch
    told = [("Batch", batch.name), ("State", state_words(batch))]
    told.append(("Started", f"{batch.started_at:%Y-%m-%d %H:%M} UTC"))
    if batch.closed_at is not None:
        told.append(("Closed", f"{batch.closed_at:%Y-%m-%d %H:%M} UTC by {batch.closed_by}"))
    told.append(("Pieces", pieces_words(whole)))
    if sampling := sampling_words(batch):
        told.append(("Lot acceptance", f"{sampling} {whole.acceptance_sentence}"))
    told += [("What happened", line) for line in batch.notes.splitlines()]
    return tuple(told)


def recipe_facts(whole: WholeBatch) -> Facts:
    """Return how the pieces are pressed, as set on the press."""
    recipe = whole.recipe
    told = [
        ("Recipe", recipe.name),
        ("Press", whole.press.name),
        ("Blank", blank_line(whole.blank).removeprefix("Blank ")),
        ("Settings", settings_words(recipe.temperature_k, recipe.time_s)),
    ]
    told += [("Pressure", f"{recipe.pressure_kpa:.0f} kPa")] if recipe.pressure_kpa else []
    given = (
        ("Ink", recipe.ink),
        ("Paper", recipe.paper),
        ("Protective sheet", recipe.protective_sheet),
        ("Pad", recipe.pad),
    )
    told += [pair for pair in given if pair[1]]
    told += [("Heated", "through the blank")] if recipe.through_blank else []
    return (*told, ("Artwork", whole.batch.artwork_name))


def pieces_words(whole: WholeBatch) -> str:
    """Say how many pieces were inspected, how they came out, and of how many."""
    batch = whole.batch
    grades = Counter(piece.pressing.grade or "not graded" for piece in whole.counted)
    listed = ", ".join(f"{count} {grade}" for grade, count in sorted(grades.items()))
    counted = f": {listed}" if listed else ""
    every = "each piece" if batch.every_nth == 1 else f"every {ordinal(batch.every_nth)} piece"
    planned = "" if batch.planned_pieces is None else f" of {batch.planned_pieces} planned"
    held = len(whole.pieces) - len(whole.counted)
    before = f"; {held} before the approved first piece" if held and whole.counted else ""
    return f"{len(whole.counted)} inspected{planned} ({every}){counted}{before}"
