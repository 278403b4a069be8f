"""A batch in words, for the terminal."""

from dyecast_api.batches.batch_facts import batch_facts, recipe_facts
from dyecast_api.batches.batch_words import clock_notes, piece_line
from dyecast_api.batches.whole_batch import WholeBatch
from dyecast_api.printable_text import printable


def batch_text(whole: WholeBatch) -> str:
    """Return everything about a batch: what it is, its pieces, and what its charts say."""
    facts = [f"{name}: {words}" for name, words in (*batch_facts(whole), *recipe_facts(whole))]
    said = [*whole.next_step, *(whole.charts.sentences if whole.counted else ()), *clock_notes(whole.pieces)]
    return "\n".join(map(printable, [*facts, *map(piece_line, whole.pieces), *said]))
