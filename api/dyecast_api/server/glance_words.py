"""What a glance at a viewfinder's frame says to the person who aims: one or two short sentences."""

from typing import Final, Literal

from dyecast_inspect.glance import Glance
from dyecast_shared.errors import CardClipped, CardNotFound, Retake

Signal = Literal["ready", "caution", "no-card"]
"""How a frame is: as it should be, not quite so, or without a card that could be measured."""

READY: Final = "The card is found. Take the photo."
READY_BUT_WHITE: Final = "The card is found. White is almost burnt out, so look for glare yourself."

MOST_SENTENCES: Final = 2
"""Most sentences at a time: the next are said when these are done."""

_TROUBLE_WORDS: Final = {
    "card-not-found": "No card is seen. Bring the whole card into the frame, or go closer.",
    "card-clipped": "Part of the card is outside the frame: step back.",
    "card-too-small": "The card is too far away: go closer.",
    "photo-blurred": "The picture is blurred: hold the phone still, or go back a little.",
    "card-bent": "The card is bent: lay it flat.",
    "two-cards": "More than one card is seen: leave one.",
}
"""What to do while aiming, by the retake's code; its own advice is about a photo that was taken."""


def signal_of(glance: Glance) -> Signal:
    """Return how a frame is."""
    if not glance.usable:
        return "no-card"
    glare = glance.glare
    return "caution" if glance.missing or glare.burnt_out or glare.places else "ready"


def words_of(glance: Glance) -> str:
    """Return what a frame's person should do, the most important first."""
    sentences: list[str] = []
    if glance.trouble is not None:
        sentences.append(_trouble_words(glance, glance.trouble))
    elif glance.missing:
        sentences.append(f"{_markers(glance)} not seen: uncover that corner, and keep glare off it.")
    if glance.glare.places:
        where = " and at the ".join(glance.glare.places)
        sentences.append(f"Glare at the {where} of the frame: turn the piece or shade it.")
    if glance.glare.burnt_out:
        sentences.append("The card's white is burnt out: take light away, or use the camera's own app.")
    if sentences:
        return " ".join(sentences[:MOST_SENTENCES])
    return READY if glance.glare.places is not None else READY_BUT_WHITE


def _trouble_words(glance: Glance, trouble: Retake) -> str:
    """Say why the card cannot be measured; of a card with too few markers, which are missing."""
    if isinstance(trouble, CardNotFound) and glance.missing:
        return f"{_markers(glance)} not seen: uncover the card's corners, and keep glare off them."
    if isinstance(trouble, CardNotFound) and glance.layout is not None:
        return "Only one of the card's markers is seen: uncover its corners, and keep glare off them."
    if isinstance(trouble, CardClipped) and glance.missing:
        return f"Part of the card is outside the frame, at the {_listed(glance)}: step back."
    return _TROUBLE_WORDS.get(trouble.code, trouble.advice)


def _markers(glance: Glance) -> str:
    """Begin a sentence about the markers that are missing."""
    noun, verb = ("markers", "are") if len(glance.missing) > 1 else ("marker", "is")
    return f"The card's {noun} at the {_listed(glance)} {verb}"


def _listed(glance: Glance) -> str:
    return " and the ".join(glance.missing)
