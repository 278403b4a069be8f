"""The colour chain on photos of a real chart: the sheet's own layout stands in for the card.

The folder holds photos, `sheet_*.json` (card layouts with `lab_d50`) and `truth.json` that names each
photo's sheet.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from benchmark.piece_error import WHITE_D50, delta_e_2000, lab_of_relative_xyz
from benchmark.tables import Cell, Table, spread
from dyecast_calibration.card_layout import CardLayout, known_layouts, load_card_layout
from dyecast_calibration.card_values import designed_values
from dyecast_inspect.correct_colour import correct_samples
from dyecast_inspect.find_card import find_card
from dyecast_inspect.patch_samples import sample_patches
from dyecast_inspect.read_photo import read_photo
from dyecast_shared.errors import DyecastError, Retake

BEST_PLAIN_MEAN, BEST_PLAIN_WORST = 2.8, 3.4
"""Leave-one-out mean CIEDE2000 over the photos and of the worst photo, of the best plain method known:
light divided out, tone curve, root-polynomial (the photos' README)."""


@dataclass(frozen=True, slots=True, eq=False)
class ChartResult:
    """One chart photo: leave-one-out mean, patches left out, the patches' measured Lab; or the trouble."""

    photo: str
    sheet: str
    leave_one_out: float
    left_out: int
    lab: NDArray[np.float32] | None
    refused_by_own_card: bool
    trouble: str = ""


def chart_result(folder: Path, photo: str, sheet: str) -> ChartResult:
    """Run the chain on one photo with its sheet as the card."""
    refused = own_card_refuses(folder / photo)
    try:
        layout = load_card_layout(folder / f"sheet_{sheet}.json")
        mean, left_out, lab = measured_chart(folder / photo, layout)
    except DyecastError as trouble:
        return ChartResult(photo, sheet, float("nan"), 0, None, refused, f"{trouble.code}: {trouble.message}")
    return ChartResult(photo, sheet, mean, left_out, lab, refused)


def measured_chart(photo_file: Path, layout: CardLayout) -> tuple[float, int, NDArray[np.float32]]:
    """Leave-one-out mean CIEDE2000, how many patches were left out, and every patch's Lab (D50, 2 degree)."""
    photo = read_photo(photo_file)
    sighting = find_card(photo, [layout])
    samples = sample_patches(photo, sighting.card_to_photo, layout)
    correction = correct_samples(samples, photo, sighting.card_to_photo, layout, designed_values(layout))
    xyz = correction.xyz(samples.patches.mean, samples.patches.centres_px)
    return correction.leave_one_out_mean, len(correction.left_out), lab_of_relative_xyz(xyz / WHITE_D50)


def own_card_refuses(photo_file: Path) -> bool:
    """Tell whether the cards that ship are rightly not found in this photo."""
    try:
        find_card(read_photo(photo_file), known_layouts())
    except Retake:
        return True
    return False


def chart_tables(folder: Path) -> list[Table]:
    """Leave-one-out errors by photo, and how well two photos of one sheet agree."""
    photos = json.loads((folder / "truth.json").read_text())["photos"]
    results = [chart_result(folder, name, str(told["sheet_series"])) for name, told in photos.items()]
    return [leave_one_out_table(results), agreement_of_photos(results)]


def leave_one_out_table(results: Sequence[ChartResult]) -> Table:
    """One line a photo, with the mean over photos and the worst in the note."""
    rows = tuple(
        (
            found.photo,
            found.sheet,
            found.leave_one_out,
            found.left_out,
            found.refused_by_own_card,
            found.trouble,
        )
        for found in results
    )
    errors = [found.leave_one_out for found in results]
    note = (
        f"Mean over photos {np.nanmean(errors):.2f}, worst {spread(errors).worst:.2f}; best plain method "
        f"{BEST_PLAIN_MEAN} and {BEST_PLAIN_WORST}. Refused with the cards that ship: "
        f"{sum(found.refused_by_own_card for found in results)} of {len(results)}."
    )
    columns = ("photo", "sheet", "leave-one-out mean", "patches left out", "refused with our card", "trouble")
    return Table("Real charts, CIEDE2000", columns, rows, note)


def agreement_of_photos(results: Sequence[ChartResult]) -> Table:
    """Mean CIEDE2000 between the patches as measured in two photos of one sheet; 1.4 to 1.6 is the best
    of the plain methods known."""
    rows: list[tuple[Cell, ...]] = []
    for one, other in combinations(results, 2):
        if one.sheet == other.sheet and one.lab is not None and other.lab is not None:
            rows.append((f"{one.photo} and {other.photo}", float(delta_e_2000(one.lab, other.lab).mean())))
    means = [float(row[1]) for row in rows if isinstance(row[1], float)]
    note = f"Mean over pairs {np.mean(means):.2f}." if means else ""
    return Table("Two photos of one sheet, mean CIEDE2000", ("photos", "difference"), tuple(rows), note)
