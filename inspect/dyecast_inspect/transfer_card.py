"""Read the colours of a new card from a photo that shows it beside a card of known colours.

The trusted card gives the colour correction and the light at its own place; the light at the new card's
place is extrapolated from it. What is *not* done is to call the new card's paper white: two papers differ by
several CIEDE2000, and that difference is part of what is wanted. Paper is used in another way: it has one
colour all over the sheet, so a slope of the light across the new card shows in its own bare paper and is
taken off there. The level stays the extrapolated one, and is trusted most where the new card lies nearest to
the trusted one.

What remains is an error of the level, common to all patches of one photo, when the light bends between the
cards. It changes its sign with the side the new card lies on: photos with the cards in both orders, lying
close together, average it out, and the spread between photos shows it. Cards printed with different inks
keep some metameric error, which no number of photos in the same light takes away.
"""

from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout
from dyecast_calibration.card_values import CardValues, Lab, white_names
from dyecast_calibration.grading_limits import grading_limits
from dyecast_calibration.repeated_readings import mean_lab
from dyecast_inspect.card_sighting import CardSighting
from dyecast_inspect.correct_colour import ColourCorrection, correct_colour
from dyecast_inspect.find_card import find_card
from dyecast_inspect.patch_samples import PatchSamples, RegionSamples, sample_patches
from dyecast_inspect.photo_checks import check_card
from dyecast_inspect.read_photo import read_photo
from dyecast_inspect.usable_patches import CLIPPED_SHARE, UNEVEN_OUTLIERS
from dyecast_shared.cielab import D50_WHITE, xyz_to_lab
from dyecast_shared.errors import BadInput, CardNotFound
from dyecast_shared.photo import Photo

Array = NDArray[np.float64]

LEAST_PAPER_CELLS = 6
"""Cells of clean paper below which no slope of the light is taken from the new card: twice the three a plane
needs."""

PAPER_SPREAD = 0.10
"""Relative departure from the paper's middle lightness from which a cell holds something else than paper: a
light that falls off by more across a card is refused elsewhere or seen in the spread. Our own bound."""


def read_card_beside(
    path: Path, *, new: CardLayout, trusted: CardLayout, trusted_values: CardValues
) -> Mapping[str, Lab]:
    """Read a new card's patches and its bare paper from one photo that also shows a trusted card.

    Parameters
    ----------
    path
        The photo.
    new, trusted
        The layouts of the two cards; they must not share markers.
    trusted_values
        The colours of the trusted card's patches.

    Returns
    -------
    L*, a*, b* (D50, 2 degree) by patch id, and of the bare paper under the names of the white areas, so that
    `transferred_values` can average several photos. A patch that is clipped or uneven (dirt, glare, the edge
    of a shadow) is not in it.

    Raises
    ------
    BadInput
        The layouts share markers, or the file cannot be used.
    CardNotFound
        One of the two cards is not seen; the message says which.
    Retake
        A card is seen but cannot be measured, or the trusted card's colours are too uncertain.
    """
    _check_tellable_apart(new, trusted)
    photo = read_photo(path)
    known = _find_one(photo, trusted, "trusted")
    unknown = _find_one(photo, new, "new")
    correction = correct_colour(photo, known.card_to_photo, trusted, trusted_values)
    check_card(photo, correction, grading_limits())
    samples = sample_patches(photo, unknown.card_to_photo, new)
    slope, anchor_mm = _slope_of_light(samples, correction)
    patches = _colours(samples.patches, correction, slope, anchor_mm)
    cells = _colours(samples.white_areas, correction, slope, anchor_mm)
    return patches | _bare_paper(cells, new)


def _check_tellable_apart(new: CardLayout, trusted: CardLayout) -> None:
    """Raise BadInput for two layouts whose markers could be taken for each other."""
    shared = new.marker_ids() & trusted.marker_ids()
    if shared and new.marker_dictionary == trusted.marker_dictionary:
        numbers = ", ".join(str(number) for number in sorted(shared))
        raise BadInput(
            f"The new card '{new.name}' and the trusted card '{trusted.name}' carry the same markers "
            f"(number {numbers}), so a photo cannot tell which is which.",
            advice="Use a trusted card of another layout, e.g. a pocket card beside an a6 card.",
        )


def _find_one(photo: Photo, layout: CardLayout, role: str) -> CardSighting:
    """Find the one card of this layout; a card that is not seen is named with its role."""
    try:
        return find_card(photo, (layout,))
    except CardNotFound as missing:
        raise CardNotFound(
            f"The {role} card '{layout.name}' was not found: {missing.message}",
            advice="Lay the new card and the trusted card side by side, both whole in the frame.",
            file=photo.name,
        ) from missing


def _slope_of_light(samples: PatchSamples, correction: ColourCorrection) -> tuple[Array, Array]:
    """Return what the extrapolated light misses across the new card, from its paper, and its anchor.

    The slope is (2, 3): log units of X, Y, Z per mm along the card's x and y; zero with too little clean
    paper. The anchor, (2,) mm on the card, is the paper where the extrapolated light is most certain: there
    nothing is changed.
    """
    paper = samples.paper
    readable = np.flatnonzero(_even(paper) & ~_clipped(paper, correction))
    xyz = correction.xyz(paper.mean[readable], paper.centres_px[readable]).astype(np.float64)
    luminance = xyz[:, 1] / max(float(np.median(xyz[:, 1])) if len(xyz) else 1.0, 1e-6)
    clean = np.abs(luminance - 1.0) < PAPER_SPREAD
    if clean.sum() < LEAST_PAPER_CELLS:
        return np.zeros((2, 3)), np.zeros(2)
    places = paper.centres_mm[readable][clean]
    design = np.column_stack([np.ones(len(places)), places])
    plane, *_ = np.linalg.lstsq(design, np.log(xyz[clean]), rcond=None)
    doubt = correction.illumination.gain_uncertainty(paper.centres_px[readable][clean])
    return np.asarray(plane[1:]), np.asarray(places[int(np.argmin(doubt))])


def _colours(
    regions: RegionSamples, correction: ColourCorrection, slope: Array, anchor_mm: Array
) -> dict[str, Lab]:
    """Return CIELAB (D50) by name of every region that is even and not clipped."""
    xyz = correction.xyz(regions.mean, regions.centres_px).astype(np.float64)
    xyz /= np.exp((regions.centres_mm - anchor_mm) @ slope)
    usable = _even(regions) & ~_clipped(regions, correction)
    lab = np.asarray(xyz_to_lab(xyz, D50_WHITE), dtype=np.float64)
    return {
        name: (float(colour[0]), float(colour[1]), float(colour[2]))
        for name, colour, kept in zip(regions.ids, lab, usable, strict=True)
        if kept
    }


def _even(regions: RegionSamples) -> NDArray[np.bool_]:
    """Tell which regions lie in the photo with nothing on them."""
    return np.asarray(~np.isnan(regions.mean).any(axis=1) & (regions.outlier_share <= UNEVEN_OUTLIERS))


def _clipped(regions: RegionSamples, correction: ColourCorrection) -> NDArray[np.bool_]:
    """Tell which regions are overexposed."""
    return np.asarray(
        (regions.clipped_share > CLIPPED_SHARE) | correction.clipped(np.nan_to_num(regions.mean))
    )


def _bare_paper(cells: Mapping[str, Lab], layout: CardLayout) -> dict[str, Lab]:
    """Average the cells of each white area under the area's own name."""
    areas = {}
    for area in layout.white_areas:
        name = area.id.lower()
        labs = [lab for cell, lab in cells.items() if cell.rpartition(" ")[0].lower() == name]
        if labs and name in white_names(layout):
            areas[name] = mean_lab(labs)
    return areas
