"""A spectrophotometer gives the card its values: CGATS.17 / ISO 28178 text in, card values out.

All measurement files here are made up by these tests.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path

import colour
import numpy as np
import pytest

from dyecast_calibration.card_layout import CardLayout, layout_named
from dyecast_calibration.card_values import CardValues, Trust
from dyecast_calibration.cgats import measured_values
from dyecast_calibration.cgats_text import read_measurement_table
from dyecast_shared.errors import FileUnreadable, MeasurementsInvalid

ICC_D50 = np.array([0.9642, 1.0, 0.8249])
LAB_FORMAT = "SAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B"
D50_TWO_DEGREE = 'ILLUMINATION_NAME "D50"\nOBSERVER_ANGLE "2"\n'


@pytest.fixture
def layout() -> CardLayout:
    """A card of four patches, so that a whole measurement file can be read at a glance."""
    pocket = layout_named("pocket")
    wanted = {"a1": (98, 98, 98), "a5": (212, 48, 60), "b3": (255, 255, 255), "d2": (66, 66, 180)}
    patches = tuple(patch for patch in pocket.patches if patch.id in wanted)
    assert {patch.id: patch.srgb for patch in patches} == wanted
    return replace(pocket, patches=patches)


def lab_rows(changes: Mapping[str, str] | None = None) -> list[str]:
    rows = {
        "a1": '1\t"a1"\t41.20\t0.30\t-0.80',
        "a5": '2\t"a5"\t46.10\t60.20\t31.00',
        "b3": '3\t"b3"\t95.00\t0.50\t-2.60',
        "d2": '4\t"d2"\t33.90\t30.10\t-55.40',
    }
    return list((rows | dict(changes or {})).values())


def cgats(rows: Iterable[str], head: str = D50_TWO_DEGREE, columns: str = LAB_FORMAT) -> str:
    data = list(rows)
    return (
        f'CGATS.17\nORIGINATOR "made up"\n{head}'
        f"NUMBER_OF_FIELDS {len(columns.split())}\nBEGIN_DATA_FORMAT\n{columns}\nEND_DATA_FORMAT\n"
        f"NUMBER_OF_SETS {len(data)}\nBEGIN_DATA\n" + "\n".join(data) + "\nEND_DATA\n"
    )


def read(folder: Path, text: str, layout: CardLayout, encoding: str = "utf-8") -> CardValues:
    path = folder / "measured.txt"
    path.write_bytes(text.encode(encoding))
    return measured_values(path, layout)


def xyz_text(labs: Mapping[str, tuple[float, float, float]], white: Iterable[float] = ICC_D50) -> list[str]:
    """Rows of X, Y, Z (white 100) that colour-science gives for these colours under that white."""
    whitepoint = colour.XYZ_to_xy(np.array(list(white)))
    rows = []
    for name, lab in labs.items():
        x, y, z = colour.Lab_to_XYZ(np.array(lab), whitepoint) * 100.0
        rows.append(f"{name} {x:.4f} {y:.4f} {z:.4f}")
    return rows


FOUR_LABS = {
    "a1": (41.2, 0.3, -0.8),
    "a5": (46.1, 60.2, 31.0),
    "b3": (95.0, 0.5, -2.6),
    "d2": (33.9, 30.1, -55.4),
}


def test_lab_columns_become_the_card_s_values(tmp_path: Path, layout: CardLayout) -> None:
    values = read(tmp_path, cgats(lab_rows()), layout)
    assert values.trust is Trust.MEASURED
    assert values.lab_d50 == FOUR_LABS
    assert values.source == "measured.txt"
    assert values.spread is None


def test_xyz_columns_go_to_lab_under_d50(tmp_path: Path, layout: CardLayout) -> None:
    """Checked against colour-science, which made the X, Y, Z."""
    values = read(tmp_path, cgats(xyz_text(FOUR_LABS), columns="SAMPLE_ID XYZ_X XYZ_Y XYZ_Z"), layout)
    for name, lab in FOUR_LABS.items():
        assert values.lab_d50[name] == pytest.approx(lab, abs=0.01)


def test_other_columns_and_other_orders_do_not_matter(tmp_path: Path, layout: CardLayout) -> None:
    rows = [f"{lab[2]} 12 {lab[0]} {lab[1]} {name}" for name, lab in reversed(FOUR_LABS.items())]
    columns = "LAB_B SPECTRAL_500 LAB_L LAB_A SAMPLE_ID"
    assert read(tmp_path, cgats(rows, columns=columns), layout).lab_d50 == FOUR_LABS


@pytest.mark.parametrize("name", ["SAMPLE_NAME", "SAMPLE_ID", "SampleID", "SAMPLE_LOC", "sample_name"])
def test_patches_are_found_by_name_in_upper_or_lower_case(
    tmp_path: Path, layout: CardLayout, name: str
) -> None:
    rows = [f'"{patch.upper()}" {lab[0]} {lab[1]} {lab[2]}' for patch, lab in FOUR_LABS.items()]
    values = read(tmp_path, cgats(rows, columns=f"{name} lab_l lab_a lab_b"), layout)
    assert list(values.lab_d50) == ["a1", "a5", "b3", "d2"]


def test_comments_blank_lines_tabs_and_line_ends_do_not_matter(tmp_path: Path, layout: CardLayout) -> None:
    text = cgats(lab_rows()).replace("BEGIN_DATA\n", "# rows follow\n\nBEGIN_DATA # here\n", 1)
    text = text.replace("-0.80\n", "-0.80  # a grey\n\n").replace("\n", "\r\n")
    assert read(tmp_path, text, layout).lab_d50 == FOUR_LABS


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "latin-1"])
def test_the_file_may_come_in_other_encodings(tmp_path: Path, layout: CardLayout, encoding: str) -> None:
    head = 'ILLUMINATION_NAME "D50"\nOBSERVER_ANGLE "2°"\nOPERATOR "Zoë"\n'
    assert read(tmp_path, cgats(lab_rows(), head), layout, encoding).source == "measured.txt"


def test_a_file_of_the_ti3_kind_is_read_too(tmp_path: Path, layout: CardLayout) -> None:
    head = 'KEYWORD "DEVICE_CLASS"\nDEVICE_CLASS "OUTPUT"\nINSTRUMENTATION "D50, 2 degree, 45/0"\n'
    text = cgats(lab_rows(), head).replace("CGATS.17", "CTI3\n", 1)
    assert read(tmp_path, text, layout).lab_d50 == FOUR_LABS


def test_a_decimal_comma_is_understood(tmp_path: Path, layout: CardLayout) -> None:
    rows = [row.replace(".", ",") for row in lab_rows()]
    assert read(tmp_path, cgats(rows), layout).lab_d50 == FOUR_LABS


def test_several_rows_of_a_patch_are_averaged_and_their_spread_kept(
    tmp_path: Path, layout: CardLayout
) -> None:
    again = ["5 A1 42.20 0.30 -0.80", "6 a1 43.20 0.30 -0.80"]
    values = read(tmp_path, cgats([*lab_rows(), *again]), layout)
    assert values.lab_d50["a1"] == pytest.approx((42.2, 0.3, -0.8))
    assert values.spread is not None
    assert set(values.spread) == {"a1"}
    assert 0.4 < values.spread["a1"] < 0.8


def test_the_bare_paper_is_the_white_patch_unless_the_white_areas_were_measured(
    tmp_path: Path, layout: CardLayout
) -> None:
    assert read(tmp_path, cgats(lab_rows()), layout).white_lab == (95.0, 0.5, -2.6)
    whites = ["5 Left 94.0 0.0 -2.0", "6 right 96.0 1.0 -4.0"]
    assert read(tmp_path, cgats([*lab_rows(), *whites]), layout).white_lab == (95.0, 0.5, -3.0)
    without = replace(layout, patches=tuple(patch for patch in layout.patches if patch.id != "b3"))
    assert read(tmp_path, cgats(lab_rows()), without).white_lab is None


@pytest.mark.parametrize(
    "head",
    [
        'ILLUMINANT "D50"\nOBSERVER "CIE 2 degree"\n',
        'ILLUMINATION_NAME D50\nOBSERVER_ANGLE 2\nMEASUREMENT_SOURCE "GAS-FILLED TUNGSTEN"\n',
        'WEIGHTING_FUNCTION "ILLUMINANT, D50"\nWEIGHTING_FUNCTION "OBSERVER, 2 degree"\n',
        'MEASUREMENT_SOURCE "Illumination=D50\tObserverAngle=2degree\tWhiteBase=Abs\tFilter=No"\n',
        'ILLUMINANT "CIE illuminant D50"\nOBSERVER "CIE 1931"\n',
        'INSTRUMENTATION "made up, D50, 2 degree, 45/0, white backing"\n',
    ],
)
def test_d50_and_2_degree_are_recognised_however_they_are_stated(
    tmp_path: Path, layout: CardLayout, head: str
) -> None:
    assert read(tmp_path, cgats(lab_rows(), head), layout).source == "measured.txt"


@pytest.mark.parametrize(
    ("head", "complaint"),
    [
        ('ILLUMINATION_NAME "D65"\nOBSERVER_ANGLE "2"\n', "made for D65"),
        ('ILLUMINANT "A"\n', "made for A"),
        ('ILLUMINANT "F11"\n', "made for F11"),
        ('ILLUMINATION_NAME "D50"\nOBSERVER_ANGLE "10"\n', "made for 10 degree observer"),
        ('OBSERVER "CIE 1964"\n', "made for 10 degree observer"),
        (
            'WEIGHTING_FUNCTION "ILLUMINANT, D65"\nWEIGHTING_FUNCTION "OBSERVER, 10 degree"\n',
            "D65, 10 degree",
        ),
        ('MEASUREMENT_SOURCE "Illumination=D65 ObserverAngle=10degree WhiteBase=Abs"\n', "D65, 10 degree"),
        ('INSTRUMENTATION "made up, D65, 10 deg"\n', "D65, 10 degree"),
        ('MEASUREMENT_SOURCE "D65"\n', "made for D65"),
        ('ILLUMINANT "D50"\nWEIGHTING_FUNCTION "ILLUMINANT, D65"\n', "made for D65"),
    ],
)
def test_another_illuminant_or_observer_is_refused(
    tmp_path: Path, layout: CardLayout, head: str, complaint: str
) -> None:
    with pytest.raises(MeasurementsInvalid, match=complaint):
        read(tmp_path, cgats(lab_rows(), head), layout)


@pytest.mark.parametrize(
    ("head", "note"),
    [
        ("", "illuminant D50 and 2 degree observer not stated, taken for granted"),
        ('ILLUMINANT "D50"\n', "2 degree observer not stated, taken for granted"),
        (
            'MEASUREMENT_SOURCE "Illumination=Unknown ObserverAngle=Unknown"\n',
            "illuminant D50 and 2 degree observer not stated, taken for granted",
        ),
    ],
)
def test_a_silent_file_is_taken_for_d50_2_degree_and_the_source_says_so(
    tmp_path: Path, layout: CardLayout, head: str, note: str
) -> None:
    """ISO 13655 prescribes D50 and the 2 degree observer for prints."""
    assert read(tmp_path, cgats(lab_rows(), head), layout).source == f"measured.txt; {note}"


def test_a_silent_file_made_for_d65_is_caught_by_its_xyz(tmp_path: Path, layout: CardLayout) -> None:
    """X, Y, Z keep the colour of the light: paper under D65 read as D50 is strongly blue."""
    d65 = colour.xy_to_XYZ(np.array([0.3127, 0.3290]))
    bare = cgats(xyz_text(FOUR_LABS, d65), "", "SAMPLE_ID XYZ_X XYZ_Y XYZ_Z")
    with pytest.raises(MeasurementsInvalid, match="lightest grey has a chroma of 2"):
        read(tmp_path, bare, layout)
    rows = [
        f"{row} {lab[0]} {lab[1]} {lab[2]}"
        for row, lab in zip(xyz_text(FOUR_LABS, d65), FOUR_LABS.values(), strict=True)
    ]
    both = cgats(rows, "", "SAMPLE_ID XYZ_X XYZ_Y XYZ_Z LAB_L LAB_A LAB_B")
    with pytest.raises(MeasurementsInvalid, match=r"Lab and XYZ of row '.*' differ"):
        read(tmp_path, both, layout)


def test_lab_and_xyz_of_one_file_may_differ_by_their_rounding(tmp_path: Path, layout: CardLayout) -> None:
    rows = []
    for row, lab in zip(xyz_text(FOUR_LABS), FOUR_LABS.values(), strict=True):
        name, *xyz = row.split()
        shown = " ".join(f"{float(value):.1f}" for value in xyz)
        rows.append(f"{name} {shown} {lab[0]} {lab[1]} {lab[2]}")
    values = read(tmp_path, cgats(rows, columns="SAMPLE_ID XYZ_X XYZ_Y XYZ_Z LAB_L LAB_A LAB_B"), layout)
    assert values.lab_d50 == FOUR_LABS


def test_missing_patches_are_named_together_with_rows_of_no_patch(tmp_path: Path, layout: CardLayout) -> None:
    rows = lab_rows({"a5": "2 e7 46.1 60.2 31.0", "d2": "4 e8 33.9 30.1 -55.4"})
    with pytest.raises(MeasurementsInvalid, match=r"no row for patch a5, d2 .*Rows of no patch: e7, e8"):
        read(tmp_path, cgats(rows), layout)


def test_rows_of_no_patch_are_left_out_and_the_source_says_which(tmp_path: Path, layout: CardLayout) -> None:
    values = read(tmp_path, cgats([*lab_rows(), "5 Y9 10 0 0"]), layout)
    assert values.source == "measured.txt; rows of no patch left out: y9"
    assert "y9" not in values.lab_d50


@pytest.mark.parametrize(
    ("row", "complaint"),
    [
        ("1 a1 141.2 0.3 -0.8", "Row 'a1' has L\\*, a\\*, b\\* 141.20, 0.30, -0.80"),
        ("1 a1 -4 0 0", "no print has that"),
        ("1 a1 41.2 300 -0.8", "no print has that"),
        ("1 a1 nan 0 0", "no print has that"),
        ("1 a1 grey 0 0", "Row 'a1' has no number under LAB_L, LAB_A, LAB_B"),
        ("1 a1 41.2 0.3", "Row 1 of the measurements has 4 values, not 5"),
        ("1 a1 41.2 0.3 -0.8 7", "Row 1 of the measurements has 6 values, not 5"),
    ],
)
def test_a_row_that_cannot_be_is_refused_and_named(
    tmp_path: Path, layout: CardLayout, row: str, complaint: str
) -> None:
    with pytest.raises(MeasurementsInvalid, match=complaint):
        read(tmp_path, cgats(lab_rows({"a1": row})), layout)


def test_xyz_out_of_range_or_on_a_scale_to_one_is_refused(tmp_path: Path, layout: CardLayout) -> None:
    columns = "SAMPLE_ID XYZ_X XYZ_Y XYZ_Z"
    rows = xyz_text(FOUR_LABS)
    with pytest.raises(MeasurementsInvalid, match="Row 'a1' has X, Y, Z that no print has"):
        read(tmp_path, cgats(["a1 210 200 180", *rows[1:]], columns=columns), layout)
    to_one = [" ".join([row.split()[0], *(str(float(v) / 100) for v in row.split()[1:])]) for row in rows]
    with pytest.raises(MeasurementsInvalid, match="white as 100, not as 1"):
        read(tmp_path, cgats(to_one, columns=columns), layout)


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("", "names no columns"),
        ("CGATS.17\nBEGIN_DATA\n1 2 3\nEND_DATA\n", "names no columns"),
        ("BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n", "no BEGIN_DATA block"),
        ("BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\n", "there is no END_DATA_FORMAT"),
        ("BEGIN_DATA_FORMAT\nSAMPLE_ID\nEND_DATA_FORMAT\nBEGIN_DATA\na1\n", "there is no END_DATA"),
        ("BEGIN_DATA_FORMAT\nSAMPLE_ID\nEND_DATA_FORMAT\nBEGIN_DATA\nEND_DATA\n", "block is empty"),
        (
            "BEGIN_DATA_FORMAT\nSAMPLE_ID D_RED\nEND_DATA_FORMAT\nBEGIN_DATA\na1 1\nEND_DATA\n",
            "neither Lab nor XYZ",
        ),
    ],
)
def test_a_file_without_its_parts_is_refused(
    tmp_path: Path, layout: CardLayout, text: str, complaint: str
) -> None:
    with pytest.raises(MeasurementsInvalid, match=complaint) as refusal:
        read(tmp_path, text, layout)
    assert refusal.value.file == "measured.txt"


def test_a_file_cut_off_anywhere_is_refused(tmp_path: Path, layout: CardLayout) -> None:
    text = cgats(lab_rows())
    for length in range(0, len(text) - len("END_DATA\n"), 13):
        with pytest.raises(MeasurementsInvalid):
            read(tmp_path, text[:length], layout)


def test_bytes_that_are_no_text_are_refused(tmp_path: Path, layout: CardLayout) -> None:
    path = tmp_path / "noise.txt"
    path.write_bytes(np.random.default_rng(5).bytes(20_000))
    with pytest.raises(MeasurementsInvalid):
        measured_values(path, layout)
    with pytest.raises(FileUnreadable):
        measured_values(tmp_path / "none.txt", layout)


def test_the_table_is_kept_as_it_is_written(tmp_path: Path) -> None:
    path = tmp_path / "measured.txt"
    path.write_text(cgats(['1 "say ""a1"" #2" 1 2 3'], 'Keyword "X"\nkeyword "Y Z"\n'), encoding="utf-8")
    table = read_measurement_table(path)
    assert table.values_of("KEYWORD") == ("X", "Y Z")
    assert table.columns == tuple(LAB_FORMAT.split())
    assert table.rows == (("1", 'say "a1" #2', "1", "2", "3"),)
    assert table.column("LAB_A") == 3
    assert table.column("XYZ_X") is None
