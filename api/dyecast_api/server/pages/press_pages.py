"""The press log and the plan of the next pressing."""

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from dyecast_api.press_log.log_notes import log_notes
from dyecast_api.press_log.log_rows import all_blanks, all_presses, all_recipes
from dyecast_api.press_log.log_words import blank_line, press_line, pressing_line, recipe_line
from dyecast_api.press_log.pressings import logged_pressings
from dyecast_api.press_plan.logged_blank import logged_blank
from dyecast_api.press_plan.plan import Plan, planned
from dyecast_api.press_plan.plan_picture import plan_caption, plan_svg
from dyecast_api.press_plan.plan_words import SAFETY, advice_sentences, reason_sentences
from dyecast_api.server.caller import BenchCaller, Caller
from dyecast_api.server.pages.render import page
from dyecast_api.server.state import Server, ServerState
from dyecast_api.store.database import reading

router = APIRouter(prefix="/press")

Name = Annotated[str, Query(max_length=200)]

NEWEST = 50
"""Pressings that the page lists; `dyecast press list` and `export` have them all."""


@router.get("")
def press_log(request: Request, server: Server, caller: BenchCaller) -> Response:
    """Show presses, blanks, recipes and the newest pressings."""
    with reading(server.engine) as connection:
        presses, blanks = all_presses(connection, caller.shop_id), all_blanks(connection, caller.shop_id)
        recipes = all_recipes(connection, caller.shop_id)
        logged = logged_pressings(connection, caller.shop_id)
    press_names = {one.number: one.name for one in presses}
    blank_names = {one.number: one.name for one in blanks}
    shown = {
        "presses": presses,
        "blanks": blanks,
        "press_lines": [press_line(one) for one in presses],
        "blank_lines": [blank_line(one) for one in blanks],
        "recipe_lines": [
            recipe_line(one, press_names[one.press_id], blank_names[one.blank_id]) for one in recipes
        ],
        "pressing_lines": [pressing_line(one) for one in logged[::-1][:NEWEST]],
        "notes": log_notes(logged),
    }
    return page(request, "press.html", shown, caller=caller)


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
