"""What a shop's pieces taught, in plain sentences; all of them stand here, ready for translation."""

from math import exp

from dyecast_calibration.grader_model import GraderModel
from dyecast_calibration.shop_profile import LABELLED, ShopProfile
from dyecast_inspect.shop_eye import ShopShift, shop_eye

NOTABLE_INK = 0.03
"""Shift of ink, as a share, from which it is worth a sentence: less is within one photo's uncertainty."""


def shop_sentences(profile: ShopProfile, grader: GraderModel) -> tuple[str, ...]:
    """Return sentences about what was learned from a profile."""
    eye = shop_eye(profile, grader)
    if eye is None:
        return ("Nothing was taught yet: pieces are graded as everywhere.",)
    told = [f"{eye.approved} approved and {eye.labelled} labelled pieces."]
    grades = {piece.grade for piece in profile.of_kind(LABELLED)}
    if len(grades) == 1 and not (eye.approved and grades != {"good"}):
        told.append(
            f"All labelled pieces are {grades.pop()}: they are kept, and count as soon as another grade is "
            "labelled."
        )
    elif eye.shift == ShopShift():
        told.append(
            "So far they do not show that good pieces here differ from those elsewhere: no limit moved."
        )
    ink = exp(eye.shift.ink) - 1.0
    if abs(ink) >= NOTABLE_INK:
        told.append(
            f"Good pieces here carry {abs(100 * ink):.0f} % {'more' if ink > 0 else 'less'} ink than "
            "elsewhere; the limits moved with them."
        )
    if eye.look is not None and eye.approved > 1:
        told.append(
            f"Approved pieces differ among themselves by {eye.look.spread:.1f} in CIELAB on average; new "
            "ones are compared with their common look too."
        )
    return tuple(told)
