"""The press log, the forms that add to it, and the plan of the next pressing."""

from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request, Response
from sqlalchemy import Connection

from dyecast_api.press_log.entered_blank import blank_materials
from dyecast_api.press_log.log_notes import log_notes
from dyecast_api.press_log.log_rows import all_blanks, all_presses, all_recipes
from dyecast_api.press_log.log_values import GRADES
from dyecast_api.press_log.log_words import blank_line, press_line, pressing_line, recipe_line
from dyecast_api.press_log.pressings import LoggedPressing, logged_pressings
from dyecast_api.press_plan.logged_blank import logged_blank
from dyecast_api.press_plan.plan import Plan, planned
from dyecast_api.press_plan.plan_picture import plan_caption, plan_svg
from dyecast_api.press_plan.plan_words import SAFETY, advice_sentences, reason_sentences
from dyecast_api.records.inspection_records import InspectionFilter, InspectionLine, list_inspections
from dyecast_api.server.caller import BenchCaller, Caller, OwnerCaller
from dyecast_api.server.pages.form_fields import Trouble
from dyecast_api.server.pages.own_pages import go_to
from dyecast_api.server.pages.press_forms import BlankForm, PressForm, PressingForm, RecipeForm
from dyecast_api.server.pages.render import page
from dyecast_api.server.press_requests import keep_blank, keep_press, keep_pressing, keep_recipe
from dyecast_api.server.state import Server, ServerState
from dyecast_api.store.database import reading

router = APIRouter(prefix="/press")

Name = Annotated[str, Query(max_length=200)]

NEWEST = 50
"""Pressings that the page lists, and inspections that it offers; the interface has them all."""


@router.get("")
def press_log(request: Request, server: Server, caller: BenchCaller) -> Response:
    """Show presses, blanks, recipes and the newest pressings, and to the owner the forms for new ones."""
    return _log_page(request, server, caller, None)


@router.post("/presses")
def add_press(
    request: Request, server: Server, caller: OwnerCaller, form: Annotated[PressForm, Form()]
) -> Response:
    """Add a press and show the log; or show the form again with what is wrong."""
    with Trouble(form) as trouble:
        keep_press(server, caller.shop_id, form.entry(), as_written=form.as_written == "yes")
        return go_to("/press")
    return _log_page(request, server, caller, trouble)


@router.post("/blanks")
def add_blank(
    request: Request, server: Server, caller: OwnerCaller, form: Annotated[BlankForm, Form()]
) -> Response:
    """Add a kind of blank and show the log; or show the form again with what is wrong."""
    with Trouble(form) as trouble:
        keep_blank(server, caller.shop_id, form.entry(), as_written=form.as_written == "yes")
        return go_to("/press")
    return _log_page(request, server, caller, trouble)


@router.post("/recipes")
def add_recipe(
    request: Request, server: Server, caller: OwnerCaller, form: Annotated[RecipeForm, Form()]
) -> Response:
    """Add a recipe and show the log; or show the form again with what is wrong."""
    with Trouble(form) as trouble:
        as_written = form.as_written == "yes"
        keep_recipe(server, caller.shop_id, form.place(), form.entry(), as_written=as_written)
        return go_to("/press")
    return _log_page(request, server, caller, trouble)


@router.post("/pressings")
def add_pressing(
    request: Request, server: Server, caller: OwnerCaller, form: Annotated[PressingForm, Form()]
) -> Response:
    """Log a pressing and show the log; or show the form again with what is wrong."""
    with Trouble(form) as trouble:
        keep_pressing(server, caller.shop_id, form.order())
        return go_to("/press")
    return _log_page(request, server, caller, trouble)


@router.get("/plan")
def plan(request: Request, server: Server, caller: BenchCaller, blank: Name, press: Name) -> Response:
    """Show the plan of a blank's next pressing."""
    made = _plan(server, caller, blank, press)
    shown = {
        "plan": made,
        "advice": advice_sentences(made),
        "reasons": reason_sentences(made),
        "caption": plan_caption(made),
        "map": str(request.url.include_query_params().replace(path="/press/plan.svg")),
        "pressed": [pressing_line(one) for one in made.known.pressings],
        "safety": SAFETY,
    }
    return page(request, "plan.html", shown, caller=caller)


@router.get("/plan.svg")
def plan_map(server: Server, caller: BenchCaller, blank: Name, press: Name) -> Response:
    """Return the plan's map as a picture of its own."""
    return Response(plan_svg(_plan(server, caller, blank, press)), media_type="image/svg+xml")


def _plan(server: ServerState, caller: Caller, blank: str, press: str) -> Plan:
    with reading(server.engine) as connection:
        known = logged_blank(connection, caller.shop_id, blank, press)
    return planned(known)


def _log_page(request: Request, server: ServerState, caller: Caller, trouble: Trouble | None) -> Response:
    """Show the log; `trouble` holds a form that was not accepted."""
    with reading(server.engine) as connection:
        shown = _log(connection, caller.shop_id)
    shown |= {
        "materials": blank_materials(),
        "grades": GRADES,
        "trouble": trouble,
        "kind": "" if trouble is None else trouble.form.kind,
        "given": {} if trouble is None else trouble.form.model_dump(),
    }
    status = 200 if trouble is None else trouble.status
    return page(request, "press.html", shown, caller=caller, status=status)


def _log(connection: Connection, shop_id: int) -> dict[str, Any]:
    """Read what the page lists."""
    presses, blanks = all_presses(connection, shop_id), all_blanks(connection, shop_id)
    recipes, logged = all_recipes(connection, shop_id), logged_pressings(connection, shop_id)
    press_names = {one.number: one.name for one in presses}
    blank_names = {one.number: one.name for one in blanks}
    return {
        "presses": presses,
        "blanks": blanks,
        "recipes": [one for one in reversed(recipes) if one.retired_at is None],
        "inspections": _not_logged(connection, shop_id, logged),
        "press_lines": [press_line(one) for one in presses],
        "blank_lines": [blank_line(one) for one in blanks],
        "recipe_lines": [
            recipe_line(one, press_names[one.press_id], blank_names[one.blank_id]) for one in recipes
        ],
        "pressing_lines": [pressing_line(one) for one in logged[::-1][:NEWEST]],
        "notes": log_notes(logged),
    }


def _not_logged(
    connection: Connection, shop_id: int, logged: tuple[LoggedPressing, ...]
) -> list[InspectionLine]:
    """Return the newest inspections that graded a whole piece outside of batches and are not logged."""
    counted = {one.pressing.inspection_id for one in logged}
    return [
        line
        for line in list_inspections(connection, shop_id, InspectionFilter(), limit=NEWEST)
        if line.verdict in GRADES and not line.peek and line.batch_id is None and line.id not in counted
    ]
