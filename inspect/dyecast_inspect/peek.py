"""A peek: judge the ink from the corner that shows while the paper is still taped to the blank.

The way of the data:

1. **card**: photo, card and colour as in every inspection (`read_card`).
2. **place** (`peek_place`): details or colours of the artwork, either way round, foretell where it may lie
   (`peek_details`, `peek_search`); registered on what shows.
3. **part** (`peek_visible`, `fold_line`): what follows the artwork and looks more like a pressing of it than
   like paper, beyond one straight fold; less than 15 % or hardly any ink ends here.
4. **ink**: the usual fit (`explain_surface`) on that part alone, worth as many measurements as its share.
5. **answer** (`peek_answer`, `explain_peek`): not enough when today's limit would call it under-pressed.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from dyecast_calibration.card_layout import CardLayout
from dyecast_calibration.card_values import CardValues
from dyecast_calibration.grader_model import trained_grader
from dyecast_calibration.grading_limits import grading_limits
from dyecast_calibration.pressing_prior import PressingPrior
from dyecast_inspect.approved_piece import ApprovedPiece
from dyecast_inspect.explain_peek import KEEP_TAPED, peek_advice, peek_reasons
from dyecast_inspect.explain_surface import (
    ExplainedPiece,
    explain_surface,
    fit_size,
    hidden_ink_share,
)
from dyecast_inspect.grading_signs import grading_signs
from dyecast_inspect.informed_prior import informed_prior
from dyecast_inspect.inspection import Inspection, Paper, PeekAnswer, PeekReport, Pictures, Verdict
from dyecast_inspect.intended_ink import intended_ink
from dyecast_inspect.judge import judge
from dyecast_inspect.peek_answer import answer_peek, beside_paper, under_pressed_probability
from dyecast_inspect.peek_place import PeekedPlace, PeekScene, find_peek
from dyecast_inspect.photo_checks import check_card, check_piece
from dyecast_inspect.press_features import yellowing_density
from dyecast_inspect.read_artwork import Artwork, ArtworkOrWait, settled
from dyecast_inspect.read_card import read_card
from dyecast_inspect.reports import retaken
from dyecast_inspect.shop_eye import ShopEye
from dyecast_inspect.trail import MeasuredPhoto, Trail
from dyecast_shared.errors import PeekTooPale, PeekTooSmall, PieceNotFound, Retake

LEAST_VISIBLE: Final = 0.15
"""Share of the artwork that must show: below it slope and curvature of the light can no longer be told from
ink. Asked for by the shop's practice of lifting one corner; our choice."""

LEAST_INK_RANGE: Final = 0.3
"""Range of optical density in the part that shows. How much ink arrived is the slope of the measured density
over the intended one: over a range of 0.3, an error of 0.02 makes 7 % of ink, about what must be told
apart."""

COVERED_GREY: Final = 200
"""8-bit sRGB grey of what was not judged in the picture of the piece: nothing is made up under the paper."""

VERDICT_OF_ANSWER: Final = {
    PeekAnswer.ENOUGH: Verdict.GOOD,
    PeekAnswer.NOT_ENOUGH: Verdict.UNDER_PRESSED,
    PeekAnswer.CANT_TELL: Verdict.RETAKE,
}
"""What stands in `Inspection.verdict` for an answer, so that exit status and pages work as ever."""


def peek_photo(  # noqa: PLR0913 (the inspection's own signature)
    path: Path,
    artwork: ArtworkOrWait,
    *,
    layouts: Sequence[CardLayout] | None = None,
    card_values: Mapping[str, CardValues] | None = None,
    approved: ApprovedPiece | None = None,
    shop: ShopEye | None = None,
    paper: Paper = Paper.TAPED,
    progress: Callable[[str], None] = lambda _: None,
) -> Inspection:
    """Answer one peek. A photo that cannot be judged is ``can't tell``; an unusable file raises BadInput."""
    trail, wanted = Trail(), settled(artwork)
    try:
        measured, share = _measure(path, wanted, layouts, card_values, progress, trail)
    except Retake as retake:
        return untold(retaken(retake, path.name, wanted, trail))
    progress("comparing and grading")
    return _answered(judge(measured, wanted, approved=approved, shop=shop, paper=paper), measured, share)


def untold(inspection: Inspection) -> Inspection:
    """Turn a retake into a peek that cannot tell, with the caution that goes with looking again."""
    advice = tuple(replace(step, caution=step.caution or KEEP_TAPED) for step in inspection.advice)
    return replace(inspection, advice=advice, peek=PeekReport(PeekAnswer.CANT_TELL, None, None))


def _measure(  # noqa: PLR0913, PLR0917 (the stages' common inputs)
    path: Path,
    artwork: Artwork,
    layouts: Sequence[CardLayout] | None,
    card_values: Mapping[str, CardValues] | None,
    progress: Callable[[str], None],
    trail: Trail,
) -> tuple[MeasuredPhoto, float]:
    """Measure the part that shows; return it with its share of the artwork."""
    photo, card, values, correction = read_card(path, layouts, card_values, progress, trail)
    check_card(photo, correction, grading_limits())
    prior = informed_prior(correction, bleed=None)
    progress("finding what shows of the piece")
    place = _checked(find_peek(PeekScene(photo, card, correction, artwork, prior)), photo.name)
    trail.registration, trail.piece = place.registration, place.piece
    progress("measuring what shows of the piece")
    trail.explained = explained = explain_part(place, artwork, prior)
    checks = check_piece(card, correction, place.registration, explained, grading_limits())
    measured = MeasuredPhoto(
        photo, card, values, correction, place.registration, place.piece, None, explained, checks
    )
    return measured, place.part.share


def _checked(place: PeekedPlace | None, name: str) -> PeekedPlace:
    """Refuse a peek that shows no part of the artwork, too little of it, or hardly any ink."""
    if place is None:
        raise PieceNotFound(
            "No part of the artwork was recognised beside the card.",
            advice="Lift the corner further, over a part with clear details; check that the artwork file is "
            "the right one.",
            file=name,
        )
    if place.part.share < LEAST_VISIBLE:
        raise PeekTooSmall(
            f"Too little of the picture shows: {100 * place.part.share:.0f} %; "
            f"{100 * LEAST_VISIBLE:.0f} % are needed.",
            file=name,
        )
    if place.part.ink_range < LEAST_INK_RANGE:
        raise PeekTooPale("The part that shows has hardly any ink.", file=name)
    return place


def explain_part(place: PeekedPlace, artwork: Artwork, prior: PressingPrior) -> ExplainedPiece:
    """Take light and glass off the part that shows; what is covered counts as outside the outline."""
    shown = place.part.in_frame(*place.piece.usable.shape)
    lighter = replace(prior, independent=prior.independent * place.part.share)
    explained = explain_surface(replace(place.piece, usable=place.piece.usable & shown), artwork, lighter)
    agreement = np.where(place.part.mask, explained.fit.agreement, np.float32(0.0))
    fit = replace(explained.fit, agreement=np.asarray(agreement, np.float32))
    hidden = hidden_ink_share(intended_ink(artwork, fit_size(*shown.shape)), shown, explained.judged)
    return replace(explained, outline=shown, fit=fit, hidden_ink=hidden)


def _without_covered(pictures: Pictures) -> Pictures:
    """Leave grey in the picture of the piece what was not judged."""
    piece = np.where(pictures.judged[..., np.newaxis], pictures.piece, np.uint8(COVERED_GREY))
    return replace(pictures, piece=np.asarray(piece, np.uint8))


def _answered(inspection: Inspection, measured: MeasuredPhoto, share: float) -> Inspection:
    """Put the peek's answer in the place of the grade of a whole piece."""
    features, limits = inspection.features, grading_limits()
    if features is None:
        return untold(inspection)
    fraction = beside_paper(features.transferred_fraction)
    yellowing = yellowing_density(measured, limits)
    under_pressed = under_pressed_probability(grading_signs(measured, limits), trained_grader())
    peek = answer_peek(under_pressed, share)
    told = peek.answer is not PeekAnswer.CANT_TELL
    return replace(
        inspection,
        verdict=VERDICT_OF_ANSWER[peek.answer],
        confidence=(peek.confidence or 0.0) if told else 1.0,
        near_limit=False,
        probabilities={"under-pressed": under_pressed, "good": 1.0 - under_pressed} if told else {},
        reasons=peek_reasons(peek, fraction, yellowing, limits),
        advice=peek_advice(peek.answer),
        features=replace(features, transferred_fraction=fraction),
        pictures=None if inspection.pictures is None else _without_covered(inspection.pictures),
        peek=peek,
    )
