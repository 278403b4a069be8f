"""The inspection of a photo that could not even be used: a retake whose reason is the error."""

from dyecast_inspect.inspection import (
    Advice,
    Inspection,
    PeekAnswer,
    PeekReport,
    Reason,
    Reference,
    Verdict,
)
from dyecast_shared.errors import DyecastError


def refused_inspection(
    error: DyecastError,
    *,
    photo: str,
    artwork: str,
    compared_with: Reference = Reference.ARTWORK,
    peek: bool = False,
) -> Inspection:
    """Return the retake that stands for `error`: its code and sentence as the reason, and its advice.

    `photo` and `artwork` are file names without their folders; `compared_with` says what the second is the
    name of. Nothing about the piece is claimed; a peek is answered with can't tell.
    """
    advice = (Advice(error.code, error.advice, because=""),) if error.advice else ()
    return Inspection(
        photo=photo,
        artwork=artwork,
        verdict=Verdict.RETAKE,
        confidence=1.0,
        near_limit=False,
        probabilities={},
        reasons=(Reason(error.code, error.message),),
        advice=advice,
        checks=(),
        notes=(),
        peek=PeekReport(PeekAnswer.CANT_TELL, None, None) if peek else None,
        compared_with=compared_with,
    )
