"""A shop's press log for tests: one press, one blank, one recipe."""

from dataclasses import replace
from datetime import UTC, datetime

from sqlalchemy import Connection

from dyecast_api.press_log.log_rows import add_blank, add_press, add_recipe
from dyecast_api.press_log.log_values import Blank, Press, Pressing, Recipe

NOON = datetime(2026, 5, 4, 12, 0, tzinfo=UTC)

PRESS = Press("big", NOON)
MAGNET = Blank("magnet", "glass", 4.0, "back", NOON, supplier_temperature_k=466.5, supplier_time_s=70.0)


def set_up(connection: Connection, shop_id: int) -> Recipe:
    """Keep the press, the blank and a recipe; return the recipe with its number."""
    press = add_press(connection, shop_id, PRESS)
    blank = add_blank(connection, shop_id, MAGNET)
    recipe = Recipe("magnets", press, blank, temperature_k=466.5, time_s=70.0, created_at=NOON)
    return replace(recipe, number=add_recipe(connection, shop_id, recipe))


def pressing(recipe: Recipe, **given: object) -> Pressing:
    """Return a pressing by the recipe's settings."""
    usual: dict[str, object] = {"temperature_k": recipe.temperature_k, "time_s": recipe.time_s}
    moments: dict[str, object] = {"pressed_at": NOON, "logged_at": NOON}
    return Pressing(recipe.number, **(usual | moments | given))  # type: ignore[arg-type]  # fields by name
