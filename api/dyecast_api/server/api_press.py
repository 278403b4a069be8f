"""The press log over HTTP: presses, blanks, recipes and pressings, listed and added."""

from collections.abc import Sequence
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import Field

from dyecast_api.press_log.log_notes import log_notes
from dyecast_api.press_log.log_rows import Thing, all_blanks, all_presses, all_recipes
from dyecast_api.press_log.pressings import logged_pressings, newest_pressings
from dyecast_api.server.api_models import PREFIX, Body, RowNumber
from dyecast_api.server.api_press_entries import NewBlank, NewPress, NewPressing, NewRecipe
from dyecast_api.server.api_press_models import (
    BlankBody,
    BlankPage,
    KeptPressingBody,
    PressBody,
    PressingBody,
    PressingPage,
    PressPage,
    RecipeBody,
    RecipePage,
)
from dyecast_api.server.caller import BenchCaller, OwnerCaller
from dyecast_api.server.cursors import PageOfList
from dyecast_api.server.documented import SIGNED_IN, problems
from dyecast_api.server.press_requests import keep_blank, keep_press, keep_pressing, keep_recipe
from dyecast_api.server.state import Server
from dyecast_api.store.database import reading

router = APIRouter(prefix=PREFIX, tags=["press log"], responses=problems(*SIGNED_IN))

OfRow = Annotated[RowNumber | None, Query()]


class LogNotes(Body):
    """What in the log contradicts itself."""

    notes: list[str] = Field(description="Sentences, each about pressings by their `id`.")


@router.get("/presses", operation_id="listPresses")
def list_of_presses(server: Server, caller: BenchCaller, asked: PageOfList) -> PressPage:
    """List the presses, the newest first."""
    with reading(server.engine) as connection:
        found = _newest(all_presses(connection, caller.shop_id), asked.below)
    page, following = asked.cut(found, lambda one: one.number)
    return PressPage(items=[PressBody.of(one) for one in page], next=following)


@router.post("/presses", operation_id="addPress", status_code=201, responses=problems(409))
def add_press(wanted: NewPress, server: Server, caller: OwnerCaller) -> PressBody:
    """Add a press."""
    kept = keep_press(server, caller.shop_id, wanted.entry(), as_written=wanted.as_written)
    return PressBody.of(kept)


@router.get("/blanks", operation_id="listBlanks")
def list_of_blanks(server: Server, caller: BenchCaller, asked: PageOfList) -> BlankPage:
    """List the kinds of blank, the newest first."""
    with reading(server.engine) as connection:
        found = _newest(all_blanks(connection, caller.shop_id), asked.below)
    page, following = asked.cut(found, lambda one: one.number)
    return BlankPage(items=[BlankBody.of(one) for one in page], next=following)


@router.post("/blanks", operation_id="addBlank", status_code=201, responses=problems(409))
def add_blank(wanted: NewBlank, server: Server, caller: OwnerCaller) -> BlankBody:
    """Add a kind of blank; supplier's temperature and time come together or not at all."""
    kept = keep_blank(server, caller.shop_id, wanted.entry(), as_written=wanted.as_written)
    return BlankBody.of(kept)


@router.get("/recipes", operation_id="listRecipes")
def list_of_recipes(server: Server, caller: BenchCaller, asked: PageOfList) -> RecipePage:
    """List the recipes, the newest first, retired ones as well."""
    with reading(server.engine) as connection:
        found = _newest(all_recipes(connection, caller.shop_id), asked.below)
    page, following = asked.cut(found, lambda one: one.number)
    return RecipePage(items=[RecipeBody.of(one) for one in page], next=following)


@router.post("/recipes", operation_id="addRecipe", status_code=201, responses=problems(404, 409))
def add_recipe(wanted: NewRecipe, server: Server, caller: OwnerCaller) -> RecipeBody:
    """Add a recipe; settings beyond a limit of its press or blank are refused."""
    place = (wanted.press, wanted.blank)
    kept = keep_recipe(server, caller.shop_id, place, wanted.entry(), as_written=wanted.as_written)
    return RecipeBody.of(kept)


@router.get("/pressings", operation_id="listPressings")
def list_of_pressings(
    server: Server, caller: BenchCaller, asked: PageOfList, press: OfRow = None, blank: OfRow = None
) -> PressingPage:
    """List pressings, the newest first, those taken back as well; of one press or blank when asked for."""
    with reading(server.engine) as connection:
        found = newest_pressings(
            connection,
            caller.shop_id,
            press_id=press,
            blank_id=blank,
            before_number=asked.below,
            limit=asked.limit + 1,
        )
    page, following = asked.cut(found, lambda one: one.pressing.number)
    return PressingPage(items=[PressingBody.of(one) for one in page], next=following)


@router.post("/pressings", operation_id="addPressing", status_code=201, responses=problems(404, 409))
def add_pressing(wanted: NewPressing, server: Server, caller: OwnerCaller) -> KeptPressingBody:
    """Log a piece that was pressed; what it contradicts is kept as well, and said in `notes`."""
    return KeptPressingBody.of_kept(keep_pressing(server, caller.shop_id, wanted.order()))


@router.get("/press-notes", operation_id="getPressNotes")
def press_notes(server: Server, caller: BenchCaller) -> LogNotes:
    """Return what in the log contradicts itself or looks odd; it is kept as it is and counts."""
    with reading(server.engine) as connection:
        return LogNotes(notes=list(log_notes(logged_pressings(connection, caller.shop_id))))


def _newest(things: Sequence[Thing], below: int | None) -> list[Thing]:
    """Return the things below a row's number, the newest first."""
    return [one for one in reversed(things) if below is None or one.number < below]
