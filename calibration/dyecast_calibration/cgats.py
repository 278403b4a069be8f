"""A card's values from a spectrophotometer: CGATS.17 / ISO 28178 text in, card values out.

Rows are matched to the card's patches by name (`SAMPLE_NAME`, `SAMPLE_ID` and their relatives), without
regard to case. Lab columns are taken as they are; XYZ columns (0..100) go to Lab under the ICC's D50 white,
which published characterisation data follow; the digits of ISO 13655 would move b* by 0.03.
Rows named after a white area, or "white" or "paper", give the bare paper.
"""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dyecast_calibration.card_layout import CardLayout
from dyecast_calibration.card_values import CardValues, Lab, Trust, bare_paper, lab_is_plausible, white_names
from dyecast_calibration.cgats_condition import check_condition
from dyecast_calibration.cgats_text import MeasurementTable, read_measurement_table
from dyecast_calibration.repeated_readings import mean_lab, spread_of
from dyecast_shared.cielab import xyz_to_lab
from dyecast_shared.delta_e import delta_e_2000
from dyecast_shared.errors import MeasurementsInvalid

NAME_COLUMNS = ("SAMPLE_NAME", "SAMPLE_ID", "SAMPLEID", "SAMPLE_LOC", "PATCH_NAME", "PATCH_ID")
"""Columns that may hold the patch's name; the one that knows most of the card's patches is used."""

LAB_COLUMNS = ("LAB_L", "LAB_A", "LAB_B")
XYZ_COLUMNS = ("XYZ_X", "XYZ_Y", "XYZ_Z")

SMALLEST_XYZ_WHITE = 1.5
"""If no Y exceeds this, the file counts white as 1, not as 100 as ISO 28178 has it. No print is that dark."""

XYZ_RANGE = (-1.0, 150.0)
"""X, Y, Z a print can have when white is 100; the top leaves room for brightener. Our own bound."""

LARGEST_DISAGREEMENT = 1.0
"""CIEDE2000 between a row's Lab and its XYZ before the two count as made for different illuminants.
Rounding to two decimals makes up to 0.40 in published characterisation data; D65 for D50 makes over 10."""

LARGEST_GREY_CHROMA = 15.0
"""Chroma C*ab the lightest grey may have. Brightened paper reaches about 12 (common practice, no published
source); XYZ made for D65 and read as D50 gives 19 or more, for illuminant A 49."""


def measured_values(path: Path, layout: CardLayout) -> CardValues:
    """Read the card's values from a measurement file.

    Rows of the same patch are averaged in Lab. A file that states no illuminant or observer is taken for
    D50, 2 degree, which ISO 13655 prescribes for prints, and `source` says so; so it does for rows that
    belong to no patch of the card.

    Raises
    ------
    FileUnreadable
        The file is missing or may not be read.
    MeasurementsInvalid
        Another illuminant or observer, a patch without a row, no Lab or XYZ, values no print can have.
    """
    table = read_measurement_table(path)
    note = check_condition(table, path.name)
    names = _sample_names(table, layout)
    rows = _rows_by_name(names, _lab_of_rows(table, names, path.name))
    _check_complete(rows, layout, path.name)
    readings = {patch.id: rows[patch.id.lower()] for patch in layout.patches}
    lab_d50 = {identity: mean_lab(labs) for identity, labs in readings.items()}
    _check_lightest_grey(lab_d50, layout, path.name)
    white = [lab for name in sorted(white_names(layout)) for lab in rows.get(name, [])]
    return CardValues(
        trust=Trust.MEASURED,
        lab_d50=lab_d50,
        white_lab=mean_lab(white) if white else bare_paper(lab_d50, layout),
        source="; ".join(filter(None, [path.name, note, _left_out_note(rows, layout)])),
        spread=spread_of(readings, lab_d50),
    )


def _sample_names(table: MeasurementTable, layout: CardLayout) -> list[str]:
    """Return each row's name in lower case, from the column that knows most of the card's patches."""
    expected = {patch.id.lower() for patch in layout.patches}
    best: list[str] = ["" for _ in table.rows]
    for column in NAME_COLUMNS:
        place = table.column(column)
        if place is None:
            continue
        names = [row[place].strip().lower() for row in table.rows]
        if not any(best) or len(expected.intersection(names)) > len(expected.intersection(best)):
            best = names
    return best


def _lab_of_rows(table: MeasurementTable, names: list[str], file: str) -> list[Lab]:
    lab = _numbers(table, LAB_COLUMNS, names, file)
    xyz = _numbers(table, XYZ_COLUMNS, names, file)
    if xyz is not None:
        from_xyz = _lab_from_xyz(xyz, names, file)
        if lab is None:
            lab = from_xyz
        else:
            _check_agreement(lab, from_xyz, names, file)
    if lab is None:
        raise MeasurementsInvalid("The file has neither Lab nor XYZ columns.", file=file)
    rows: list[Lab] = [(float(row[0]), float(row[1]), float(row[2])) for row in lab]
    for name, row in zip(names, rows, strict=True):
        if not lab_is_plausible(row):
            shown = ", ".join(f"{value:.2f}" for value in row)
            raise MeasurementsInvalid(f"Row '{name}' has L*, a*, b* {shown}: no print has that.", file=file)
    return rows


def _numbers(
    table: MeasurementTable, columns: tuple[str, ...], names: list[str], file: str
) -> NDArray[np.float64] | None:
    """Return three columns as (N, 3) float64, or None when the file does not have them all."""
    places = [table.column(column) for column in columns]
    chosen = [place for place in places if place is not None]
    if len(chosen) < len(columns):
        return None
    numbers = np.empty((len(table.rows), len(columns)))
    for index, row in enumerate(table.rows):
        try:
            numbers[index] = [float(row[place].replace(",", ".")) for place in chosen]
        except ValueError as problem:
            raise MeasurementsInvalid(
                f"Row '{names[index]}' has no number under {', '.join(columns)}.", file=file
            ) from problem
    return numbers


def _lab_from_xyz(xyz: NDArray[np.float64], names: list[str], file: str) -> NDArray[np.float64]:
    outside = ~((xyz >= XYZ_RANGE[0]) & (xyz <= XYZ_RANGE[1])).all(axis=1)
    if outside.any():
        name = names[int(np.argmax(outside))]
        raise MeasurementsInvalid(f"Row '{name}' has X, Y, Z that no print has.", file=file)
    if xyz[:, 1].max() <= SMALLEST_XYZ_WHITE:
        raise MeasurementsInvalid("X, Y, Z must be written with white as 100, not as 1.", file=file)
    return np.asarray(xyz_to_lab(xyz / 100.0), dtype=np.float64)


def _check_agreement(
    lab: NDArray[np.float64],
    from_xyz: NDArray[np.float64],
    names: list[str],
    file: str,
) -> None:
    difference = delta_e_2000(lab, from_xyz)
    worst = int(np.argmax(difference))
    if not difference[worst] <= LARGEST_DISAGREEMENT:
        raise MeasurementsInvalid(
            f"Lab and XYZ of row '{names[worst]}' differ by {difference[worst]:.1f} CIEDE2000: "
            "they were not made for the same illuminant, or not for D50.",
            file=file,
        )


def _rows_by_name(names: list[str], labs: list[Lab]) -> dict[str, list[Lab]]:
    rows: dict[str, list[Lab]] = {}
    for name, lab in zip(names, labs, strict=True):
        rows.setdefault(name, []).append(lab)
    return rows


def _unknown_names(rows: dict[str, list[Lab]], layout: CardLayout) -> list[str]:
    known = {patch.id.lower() for patch in layout.patches} | white_names(layout)
    return [name for name in rows if name not in known]


def _check_complete(rows: dict[str, list[Lab]], layout: CardLayout, file: str) -> None:
    missing = [patch.id for patch in layout.patches if patch.id.lower() not in rows]
    if missing:
        unknown = _unknown_names(rows, layout)
        beside = f" Rows of no patch: {_shortened(unknown)}." if unknown else ""
        raise MeasurementsInvalid(
            f"There is no row for patch {_shortened(missing)} of card {layout.name}.{beside}",
            advice="Name the rows after the patches (SAMPLE_NAME or SAMPLE_ID) and measure every patch.",
            file=file,
        )


def _left_out_note(rows: dict[str, list[Lab]], layout: CardLayout) -> str:
    unknown = _unknown_names(rows, layout)
    return f"rows of no patch left out: {_shortened(unknown)}" if unknown else ""


def _shortened(names: list[str], most: int = 12) -> str:
    shown = ", ".join(names[:most])
    return f"{shown} and {len(names) - most} more" if len(names) > most else shown


def _check_lightest_grey(lab_d50: dict[str, Lab], layout: CardLayout, file: str) -> None:
    greys = [lab_d50[patch.id] for patch in layout.neutral_patches()]
    if not greys:
        return
    _, a, b = max(greys)
    chroma = float(np.hypot(a, b))
    if chroma > LARGEST_GREY_CHROMA:
        raise MeasurementsInvalid(
            f"The lightest grey has a chroma of {chroma:.0f}: the values were made for another illuminant "
            "than D50, or rows or columns are mixed up.",
            file=file,
        )
