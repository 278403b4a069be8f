"""A card's values handed on from a trusted card, by way of photos that show both."""

from collections.abc import Mapping, Sequence

from dyecast_calibration.card_layout import CardLayout
from dyecast_calibration.card_values import CardValues, Lab, Trust, bare_paper, lab_is_plausible, white_names
from dyecast_calibration.repeated_readings import mean_lab, median_lab, spread_of
from dyecast_shared.errors import MeasurementsInvalid

FEWEST_FOR_MEDIAN = 3
"""From this many readings on the median is taken, which one bad photo cannot move far; the median of two
is their mean."""

RETAKE_ADVICE = "Take photos that show the whole new card beside the trusted one, and try again."


def transferred_values(readings: Sequence[Mapping[str, Lab]], layout: CardLayout, source: str) -> CardValues:
    """Average what several photos read from a new card beside a trusted one.

    Parameters
    ----------
    readings
        One per photo: L*, a*, b* (D50, 2 degree) by patch id. A photo may lack patches (glare, shadow);
        names of white areas, "white" or "paper" give the bare paper; other names are not used.
    layout
        The new card's.
    source
        One line saying which photos and which trusted card.

    Raises
    ------
    MeasurementsInvalid
        No reading at all, a patch no photo shows, or a colour no print can have; the message names which.
    """
    if not readings:
        raise MeasurementsInvalid("There is no photo to take the card's values from.", advice=RETAKE_ADVICE)
    of_patches = {patch.id: _gathered(readings, patch.id) for patch in layout.patches}
    _check_readings(of_patches)
    average = {identity: _robust_average(labs) for identity, labs in of_patches.items()}
    white = [lab for name in sorted(white_names(layout)) for lab in _gathered(readings, name)]
    return CardValues(
        trust=Trust.TRANSFERRED,
        lab_d50=average,
        white_lab=_robust_average(white) if white else bare_paper(average, layout),
        source=source,
        spread=spread_of(of_patches, average),
    )


def _gathered(readings: Sequence[Mapping[str, Lab]], name: str) -> list[Lab]:
    return [reading[name] for reading in readings if name in reading]


def _check_readings(of_patches: Mapping[str, Sequence[Lab]]) -> None:
    missing = [identity for identity, labs in of_patches.items() if not labs]
    if missing:
        raise MeasurementsInvalid(f"No photo shows patch {', '.join(missing)}.", advice=RETAKE_ADVICE)
    for identity, labs in of_patches.items():
        if not all(map(lab_is_plausible, labs)):
            raise MeasurementsInvalid(
                f"Patch {identity} was read as a colour no print can have.", advice=RETAKE_ADVICE
            )


def _robust_average(labs: Sequence[Lab]) -> Lab:
    return median_lab(labs) if len(labs) >= FEWEST_FOR_MEDIAN else mean_lab(labs)
