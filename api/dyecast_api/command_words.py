"""What the command line adds to an error: the option or command that its advice asks for.

Errors speak of what is missing in the field's words, since pages and the HTTP interface show them too.
"""

from collections.abc import Mapping
from typing import Final

from dyecast_shared.errors import DyecastError

WORDS_OF_FIELD: Final[Mapping[str, str]] = {
    "as_written": "Confirm it with --as-written.",
    "batch": "'dyecast batch start' starts one.",
    "blank": "'dyecast press add-blank' adds one.",
    "certificate": "'dyecast batch certificate' writes it.",
    "close": "'dyecast batch close' closes it.",
    "columns": "Name it, e.g. --map pressed_at=Date.",
    "day_first": "Days that come first need --dates day-first.",
    "decision": "Use 'dyecast batch approve' or 'dyecast batch hold'.",
    "first_piece": "'dyecast batch add' adds it.",
    "give_up": "Use --give-up with a --reason.",
    "grade": "'dyecast press grade' grades it.",
    "grade_word": "Say so with --grade-word, e.g. --grade-word good=prima.",
    "judged_by": "Name the person with --judged-by.",
    "limits": "'dyecast press list' shows them.",
    "own_grade": "Grade it with --grade.",
    "piece_number": "Give it with --piece.",
    "planned_pieces": "Give it with --pieces.",
    "press": "'dyecast press add-press' adds one.",
    "pressing": "'dyecast press list' shows them.",
    "quality_limit_percent": "Give it with --accept-at.",
    "reason": "Give it with --reason.",
    "recipe": "'dyecast press add-recipe' adds one.",
    "recipe_column": "Use --map, e.g. --map recipe=Product, or --recipe.",
    "supplier": "Use --supplier-temperature and --supplier-time.",
    "supplier_figure": "'dyecast press change-blank' takes --supplier-temperature and --supplier-time.",
    "thickness": "Give it with --thickness.",
}
"""By `DyecastError.field`."""

WORDS_OF_CODE: Final[Mapping[str, str]] = {
    "batch-changed": "'dyecast batch show' shows it.",
    "press-again-refused": "'dyecast plan' makes it.",
}
"""By an error's code, where its own class says what to do."""


def command_words(error: DyecastError) -> str:
    """Return the sentence that belongs behind an error on the command line; empty for most."""
    if error.field:
        return WORDS_OF_FIELD.get(error.field, "")
    is_default = error.advice == error.default_advice
    return WORDS_OF_CODE.get(error.code, "") if is_default else ""
