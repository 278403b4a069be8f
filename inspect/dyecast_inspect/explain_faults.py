"""Say in plain sentences what is wrong with a piece beside its pressing, where, and what to do about it.

All sentences about faults stand in this file, ready for translation. The advice is common practice, no
published source.
"""

from typing import Final

from dyecast_inspect.inspection import Advice, Fault, Reason, Verdict

HOT_PRESS: Final = (
    "The press runs near 200 °C: wear heat-proof gloves, let glass cool on a dry board before you touch it, "
    "and air the room. The suppliers' sheets for blank, ink and paper come first."
)
"""The caution that goes with every advice to press."""

MIRRORED: Final = "The print is a mirror image of the artwork: the paper was printed or laid wrong."

SIZE_NOT_KNOWN: Final = "The print's size: nobody said how large it should be."

BORDER_NOT_SEEN: Final = "Whether it is centred: no white border was seen on two opposite sides."

SEVERAL_SPOTS: Final = 3
"""More marks than this side by side are counted, not told apart."""

FAULT_NAMES: Final = {
    "mirrored-print": "mirrored",
    "wrong-print-size": "printed at the wrong size",
    "off-centre": "off-centre",
    "uneven": "uneven",
    "lint-or-dust": "marked by lint or dust",
    "unknown-blemish": "marked by a blemish",
    "ghosting": "ghosted",
    "banding": "banded",
}
"""How each fault is called in half a sentence."""

COMPASS: Final = (
    "right", "lower right", "bottom", "lower left", "left", "upper left", "top", "upper right"
)  # fmt: skip
"""Eight directions, clockwise from the right."""

EVERYWHERE: Final = "everywhere"
"""Where a fault of the whole print is."""

ROWS: Final = ("upper", "", "lower")
COLUMNS: Final = ("left", "", "right")


def faults_reason(verdict: Verdict, faults: tuple[Fault, ...]) -> tuple[Reason, ...]:
    """Return the reason that names the faults beside the verdict, e.g. "Good, but uneven."."""
    names = list(dict.fromkeys(FAULT_NAMES[fault.code] for fault in faults))
    if not names:
        return ()
    told = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    joined = "but" if verdict is Verdict.GOOD else "and"
    return (Reason("faults-seen", f"{verdict.value.capitalize()}, {joined} {told}."),)


def place_words(place: tuple[tuple[float, float], ...]) -> str:
    """Say where on the artwork a place lies, e.g. "upper left corner", "middle", "everywhere"."""
    sides = [max(values) - min(values) for values in zip(*place, strict=True)]
    if min(sides) >= 1.0:
        return EVERYWHERE
    x = sum(corner[0] for corner in place) / len(place)
    y = sum(corner[1] for corner in place) / len(place)
    row, column = ROWS[min(max(int(3 * y), 0), 2)], COLUMNS[min(max(int(3 * x), 0), 2)]
    if row and column:
        return f"{row} {column} corner"
    return {"upper": "top side", "lower": "bottom side"}.get(row) or (
        f"{column} side" if column else "middle"
    )


def size_sentence(measured_mm: tuple[float, float], intended_mm: tuple[float, float]) -> str:
    """Return the sentence about a wrong print size."""
    seen, meant = (f"{width:.1f} × {height:.1f} mm" for width, height in (measured_mm, intended_mm))
    return f"The print measures {seen} and should be {meant}."


def off_centre_sentence(right_mm: float, down_mm: float) -> str:
    """Return the sentence about a print beside the middle of its blank."""
    parts = [
        f"{abs(shift):.1f} mm too far {forwards if shift > 0 else backwards}"
        for shift, forwards, backwards in ((right_mm, "right", "left"), (down_mm, "down", "up"))
        if abs(shift) >= 0.3
    ]
    return f"The print lies {' and '.join(parts)} on the blank, as the artwork is held."


def uneven_sentence(where: str, lack: float) -> str:
    """Return the sentence about a pale side or corner; `lack` is the share of ink that lacks at its edge."""
    return f"The {where} is pale: up to {100 * lack:.0f} % of the ink lacks there compared with the rest."


def lint_sentence(length_mm: float, where: str) -> str:
    """Return the sentence about a pale fibre or speck."""
    return f"A pale mark of {length_mm:.1f} mm, {where}, looks like lint or dust that kept the ink away."


def scratch_sentence(length_mm: float, where: str) -> str:
    """Return the sentence about a long straight pale line."""
    return f"A pale straight line of {length_mm:.0f} mm, {where}: a scratch, or something else unknown."


def spots_sentence(count: int, across_mm: float, where: str) -> str:
    """Return the sentence about many pale marks side by side."""
    return f"{count} pale spots within {across_mm:.0f} mm, {where}: bubbles in the coating, or unknown."


def ghosting_sentence(distance_mm: float, direction_deg: float) -> str:
    """Return the sentence about a double edge; the direction is clockwise from the right."""
    towards = COMPASS[round(direction_deg / 45.0) % 8]
    return f"A faint second print lies {distance_mm:.1f} mm towards the {towards}: the paper moved while hot."


def banding_sentence(period_mm: float, dye: str, lines: str) -> str:
    """Return the sentence about lines of less dye; `lines` says how they run over the artwork."""
    return f"Lines of less {dye} run {lines} every {period_mm:.1f} mm: the print head missed there."


def advice_for_faults(faults: tuple[Fault, ...]) -> tuple[Advice, ...]:
    """Return what to do about each fault, each advice once."""
    return tuple(dict.fromkeys(_advice(fault.code) for fault in faults))


def _advice(code: str) -> Advice:
    """Return the advice for one fault."""
    return {
        "mirrored-print": _check_mirroring,
        "wrong-print-size": _check_print_size,
        "off-centre": _centre_paper,
        "uneven": _even_pressure,
        "lint-or-dust": _clean_blank,
        "unknown-blemish": _look_at_blank,
        "ghosting": _tape_paper,
        "banding": _clean_head,
    }[code]()


def _check_mirroring() -> Advice:
    return Advice(
        "check-mirroring",
        "Check whether this blank wants its artwork mirrored before you print again.",
        "Glass that is coated on the back shows the picture through the glass and is printed "
        "unmirrored; most others are printed mirrored.",
    )


def _check_print_size() -> Advice:
    return Advice(
        "check-print-size",
        "Print again at 100 %, without fitting to the page, and measure the paper before you press.",
        "The print has another size than intended.",
        "The size is measured at the card's height: a piece thicker than 5 mm looks larger than it is.",
    )


def _centre_paper() -> Advice:
    return Advice(
        "centre-paper",
        "Lay the paper against marks or a stop, and tape it before you press.",
        "The print does not lie in the middle of the blank.",
    )


def _even_pressure() -> Advice:
    return Advice(
        "even-pressure",
        "Check that pressure and pad are even and that the platen is warm all over.",
        "Some parts of the piece took more ink than others.",
        HOT_PRESS,
    )


def _clean_blank() -> Advice:
    return Advice(
        "clean-blank",
        "Go over blank and paper with a lint-free roller, and press the blank empty for a moment first.",
        "Something lay between paper and blank and kept the ink away.",
        HOT_PRESS,
    )


def _look_at_blank() -> Advice:
    return Advice(
        "look-at-blank",
        "Look at the marked place, and at the coating of the next blank before you press it.",
        "Scratches and bubbles in the coating take no ink.",
        "A coating damaged before pressing is a case for the blank's supplier.",
    )


def _tape_paper() -> Advice:
    return Advice(
        "tape-paper",
        "Tape the paper so that it cannot move, and lift it in one movement, or after it has cooled.",
        "The paper moved while ink was still leaving it.",
        HOT_PRESS,
    )


def _clean_head() -> Advice:
    return Advice(
        "clean-print-head",
        "Print the nozzle check of your printer, and clean the print head if lines are missing.",
        "Ink is missing in lines at equal distances.",
        "Cleaning uses ink: do it only when the nozzle check shows gaps.",
    )
