"""How an inspection's answer is headed in words: the verdict on a piece, or the answer to a peek.

A peek asks another question, so it has words of its own; symbol and colour are those of the verdict that
stands for its answer.
"""

from typing import Final

from dyecast_api.plain_words import VERDICT_MEANING, VERDICT_WORDS
from dyecast_inspect.inspection import PeekAnswer, Verdict

PEEK_ANSWERS: Final = {
    Verdict.GOOD: PeekAnswer.ENOUGH,
    Verdict.UNDER_PRESSED: PeekAnswer.NOT_ENOUGH,
    Verdict.RETAKE: PeekAnswer.CANT_TELL,
}
"""The answer that each verdict of a peek stands for."""

PEEK_WORDS: Final = {
    PeekAnswer.ENOUGH: "Enough",
    PeekAnswer.NOT_ENOUGH: "Not enough",
    PeekAnswer.CANT_TELL: "Can't tell",
}
"""The answer as a heading."""

PEEK_MEANING: Final = {
    PeekAnswer.ENOUGH: "The part that shows carries the dye the artwork asks for.",
    PeekAnswer.NOT_ENOUGH: "Too little dye has reached the piece so far.",
    PeekAnswer.CANT_TELL: "Nothing is said about the piece: this peek does not tell enough.",
}
"""The answer in one sentence."""


def heading_words(verdict: Verdict, *, peek: bool) -> str:
    """Return the answer as a heading; a peek never has the verdict over-pressed."""
    return PEEK_WORDS[PEEK_ANSWERS[verdict]] if peek else VERDICT_WORDS[verdict]


def meaning_words(verdict: Verdict, *, peek: bool) -> str:
    """Return the answer in one sentence."""
    return PEEK_MEANING[PEEK_ANSWERS[verdict]] if peek else VERDICT_MEANING[verdict]


def short_words(verdict: Verdict, *, peek: bool) -> str:
    """Return the answer as programs know it, for a count of answers."""
    return PEEK_ANSWERS[verdict].value if peek else verdict.value
