"""The press log in lines of words."""

from dyecast_api.press_log.entered_values import settings_words, temperature_words, time_words
from dyecast_api.press_log.log_values import Blank, Press, Recipe
from dyecast_api.press_log.pressings import LoggedPressing
from dyecast_api.printable_text import printable


def pressing_line(logged: LoggedPressing) -> str:
    """Return one pressing in a line; its moment by this computer's clock."""
    one = logged.pressing
    told = [f"{one.number:4}", one.pressed_at.astimezone().strftime("%Y-%m-%d %H:%M"), logged.recipe.name]
    told += [settings_words(one.temperature_k, one.time_s), one.grade or "not graded yet"]
    if one.grade is not None:
        told.append(f"by {one.judged_by}")
    if one.transferred_fraction is not None:
        told.append(f"{100.0 * one.transferred_fraction:.0f} % of the dye")
    told += ["lost"] if one.lost else []
    told += [one.note] if one.note else []
    told += ["TAKEN BACK"] if one.taken_back_at else []
    return printable("  ".join(told))


def press_line(press: Press) -> str:
    """Return a press in a line."""
    limit = press.highest_temperature_k
    return printable(
        f"Press {press.name}" + ("" if limit is None else f", never above {temperature_words(limit)}")
    )


def blank_line(blank: Blank) -> str:
    """Return a kind of blank in a line."""
    told = [
        f"Blank {blank.name}: {blank.thickness_mm:g} mm {blank.material}, coated on the {blank.coating_side}"
    ]
    if blank.supplier_temperature_k is not None and blank.supplier_time_s is not None:
        told.append(f"supplier says {settings_words(blank.supplier_temperature_k, blank.supplier_time_s)}")
    told += _limit_words(blank)
    if blank.cost is not None:
        told.append(f"costs {blank.cost:g} {blank.currency or ''}".rstrip())
    return printable(", ".join(told))


def recipe_line(recipe: Recipe, press: str, blank: str) -> str:
    """Return a recipe in a line."""
    told = [f"Recipe {recipe.name}: {blank} on {press}", settings_words(recipe.temperature_k, recipe.time_s)]
    told += [f"{recipe.pressure_kpa:.0f} kPa"] if recipe.pressure_kpa else []
    given = {"ink": recipe.ink, "paper": recipe.paper, "sheet": recipe.protective_sheet, "pad": recipe.pad}
    told += [f"{name} {value}" for name, value in given.items() if value]
    told += ["heated through the blank"] if recipe.through_blank else []
    return printable(", ".join(told))


def _limit_words(blank: Blank) -> list[str]:
    limits = (
        ("not below", blank.lowest_temperature_k, temperature_words),
        ("not above", blank.highest_temperature_k, temperature_words),
        ("not shorter than", blank.shortest_time_s, time_words),
        ("not longer than", blank.longest_time_s, time_words),
    )
    return [f"{words} {shown(value)}" for words, value, shown in limits if value is not None]
