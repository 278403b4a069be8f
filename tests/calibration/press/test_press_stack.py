"""What lies in a press, and what it is made of."""

import json
from importlib.resources import files
from typing import Any

import pytest

from dyecast_calibration.press.materials import Material, materials
from dyecast_calibration.press.press_stack import (
    BONDED,
    PressStack,
    contact_conductance,
    pressed_stack,
)
from stacks import USUAL, diffusivity


def written() -> dict[str, dict[str, Any]]:
    text = files("dyecast_calibration.press").joinpath("materials.json").read_text(encoding="utf-8")
    entries: dict[str, dict[str, Any]] = json.loads(text)["materials"]
    return entries


def names(stack: PressStack) -> list[str]:
    return [layer.material.name for layer in stack.layers]


@pytest.mark.parametrize("name", list(written()))
def test_a_material_is_read_as_it_is_written_and_has_a_source(name: str) -> None:
    entry, material = written()[name], materials()[name]
    assert {key: getattr(material, key) for key in entry if key != "source"} == {
        key: value for key, value in entry.items() if key != "source"
    }
    assert len(entry["source"]) > 20
    assert 0.0 < material.relative_uncertainty <= 0.2


@pytest.mark.parametrize(
    ("name", "square_millimetres_per_second"),
    [("glass", 0.46), ("aluminium", 68), ("ceramic", 0.65), ("hardboard", 0.12), ("polymer", 0.14)],
)
def test_diffusivities_are_those_of_the_handbooks(name: str, square_millimetres_per_second: float) -> None:
    """From memory: soda-lime glass 0.4 to 0.5, aluminium alloys 60 to 75, tile 0.5 to 0.8, hardboard 0.11 to
    0.13 (0.126 for hardboard siding in the Mechanical Engineers' Handbook, table 3), plastics 0.1 to 0.2."""
    assert 1e6 * diffusivity(materials()[name]) == pytest.approx(square_millimetres_per_second, rel=0.05)


def test_heat_reaches_the_paper_first_or_passes_the_blank() -> None:
    assert names(USUAL["glass"]) == ["paper", "coating", "glass", "silicone-foam"]
    assert names(USUAL["glass, heated through"]) == ["glass", "coating", "paper", "silicone-foam"]
    sheet = pressed_stack("glass", 4e-3, sheet_thickness=0.1e-3)
    assert names(sheet) == ["paper", "paper", "coating", "glass", "silicone-foam"]
    assert sheet.layers[sheet.coating].material.name == "coating"


@pytest.mark.parametrize("stack", USUAL.values(), ids=USUAL.keys())
def test_coating_and_blank_are_one_body_and_leave_the_press_with_the_paper(stack: PressStack) -> None:
    blank = ({0, 1, 2} - {stack.coating, names(stack).index("paper")}).pop()
    assert stack.contacts[max(blank, stack.coating)] == BONDED
    assert stack.piece == (0, 2)


def test_contact_rises_with_pressure_as_measured_on_paper() -> None:
    """J. Heat Transfer 114(2), 1992, 326, abstract: bone-dry paper of 68 g/m² on metal, 200 W/(m² K) at
    2.3 kPa and 452 near 300 kPa."""
    assert contact_conductance(300e3) == pytest.approx(452.0)
    assert contact_conductance(2.3e3) == pytest.approx(200.0)


@pytest.mark.parametrize("pressure", [0.0, -1.0, float("nan"), float("inf")])
def test_a_pressure_lies_above_zero(pressure: float) -> None:
    with pytest.raises(ValueError, match="pressure"):
        contact_conductance(pressure)


def test_a_stack_that_contradicts_itself_is_refused() -> None:
    layers = USUAL["glass"].layers
    with pytest.raises(ValueError, match="one contact more"):
        PressStack(layers, (100.0,), 1, (0, 2))
    with pytest.raises(ValueError, match="a layer of the piece"):
        PressStack(layers, (100.0,) * 5, 3, (0, 2))


def test_an_unknown_blank_and_an_impossible_material_are_refused() -> None:
    with pytest.raises(KeyError):
        pressed_stack("cheese", 4e-3)
    with pytest.raises(ValueError, match="above zero"):
        Material("nothing", conductivity=0.0, density=1.0, heat_capacity=1.0)
