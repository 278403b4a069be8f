"""The plan of a blank's next pressing, and what pressing costs, over HTTP."""

from typing import Annotated, Literal, Self

from fastapi import APIRouter, Query, Response
from pydantic import Field

from dyecast_api.press_log.log_notes import log_notes
from dyecast_api.press_plan.plan import Plan
from dyecast_api.press_plan.plan_picture import plan_caption, plan_svg
from dyecast_api.press_plan.plan_words import SAFETY, advice_sentences, reason_sentences
from dyecast_api.server.api_models import PREFIX, Body, PieceVerdict, RowNumber, known_verdict
from dyecast_api.server.api_press_models import BlankBody, PressBody, RecipeBody, known_celsius
from dyecast_api.server.caller import BenchCaller
from dyecast_api.server.documented import SIGNED_IN, document_answer, problems
from dyecast_api.server.press_requests import plan_of
from dyecast_api.server.state import Server
from dyecast_calibration.press.next_pressing import Goal
from dyecast_calibration.press.tried_pressing import TriedPressing

router = APIRouter(prefix=PREFIX, tags=["press log"], responses=problems(*SIGNED_IN, 404))

Steps = Annotated[
    Literal["small", "usual"] | None,
    Query(description="How far the next pressing may lie from a known one; else the blank's cost decides."),
]
Row = Annotated[RowNumber, Query()]


class SettingBody(Body):
    """A setting of the press."""

    temperature_celsius: float
    time_seconds: float


class TriedBody(SettingBody):
    """One pressing that the plan learned from."""

    grades: list[PieceVerdict]
    transferred_fraction: float | None
    transferred_fraction_uncertainty: float | None = Field(description="Standard uncertainty.")

    @classmethod
    def of(cls, one: TriedPressing) -> Self:
        """Return a tried pressing as a body."""
        return cls(
            temperature_celsius=known_celsius(one.platen_temperature),
            time_seconds=one.time,
            grades=[verdict for verdict in map(known_verdict, one.grades) if verdict is not None],
            transferred_fraction=one.transferred_fraction,
            transferred_fraction_uncertainty=one.uncertainty,
        )


class NextBody(SettingBody):
    """What to press next, with the chances of each outcome."""

    pale: float
    good: float
    over: float
    goal: Literal["first-good-piece", "centre-of-window"]
    expected_lost: float = Field(
        description="Blanks still to lose until the first good piece; share of pieces lost once there is one."
    )


class LimitsBody(Body):
    """What no advice passes."""

    lowest_temperature_celsius: float
    highest_temperature_celsius: float
    shortest_time_seconds: float
    longest_time_seconds: float


class MapBody(Body):
    """Chances over time and temperature: a row for each temperature, a column for each time."""

    temperatures_celsius: list[float]
    times_seconds: list[float]
    pale: list[list[float]]
    good: list[list[float]]
    over: list[list[float]]


class PlanBody(Body):
    """The plan of a blank's next pressing."""

    blank: BlankBody
    press: PressBody
    recipe: RecipeBody | None = Field(description="Its paper and ink are planned with.")
    tried: list[TriedBody]
    next: NextBody
    supplier: SettingBody
    limits: LimitsBody
    small_steps: bool
    advice: list[str]
    reasons: list[str]
    notes: list[str] = Field(description="What in the log of this blank contradicts itself.")
    safety: list[str]
    map: MapBody
    map_caption: str
    picture: str = Field(description="Address of the map as SVG.")

    @classmethod
    def of(cls, plan: Plan) -> Self:
        """Return a plan as a body."""
        known = plan.known
        place = f"blank={known.blank.number}&press={known.press.number}"
        return cls(
            blank=BlankBody.of(known.blank),
            press=PressBody.of(known.press),
            recipe=None if known.recipe is None else RecipeBody.of(known.recipe),
            tried=[TriedBody.of(one) for one in known.tried.tried],
            next=_next(plan),
            supplier=SettingBody(
                temperature_celsius=known_celsius(plan.supplier.platen_temperature),
                time_seconds=plan.supplier.time,
            ),
            limits=_limits(plan),
            small_steps=plan.small_steps,
            advice=advice_sentences(plan),
            reasons=reason_sentences(plan),
            notes=list(log_notes(known.pressings)),
            safety=list(SAFETY),
            map=_map(plan),
            map_caption=plan_caption(plan),
            picture=f"{PREFIX}/press-plan.svg?{place}",
        )


@router.get("/press-plan", operation_id="getPressPlan")
def press_plan(server: Server, caller: BenchCaller, blank: Row, press: Row, steps: Steps = None) -> PlanBody:
    """Plan the next pressing of a blank on a press, from its supplier's figure and what the log tells."""
    small = None if steps is None else steps == "small"
    return PlanBody.of(plan_of(server, caller.shop_id, blank, press, small_steps=small))


@router.get(
    "/press-plan.svg",
    operation_id="getPressPlanMap",
    response_class=Response,
    responses=document_answer("image/svg+xml", "The map as a picture, with its description inside."),
)
def press_plan_map(
    server: Server, caller: BenchCaller, blank: Row, press: Row, steps: Steps = None
) -> Response:
    """Return the plan's map of time and temperature as a picture of its own."""
    small = None if steps is None else steps == "small"
    made = plan_of(server, caller.shop_id, blank, press, small_steps=small)
    return Response(plan_svg(made), media_type="image/svg+xml")


def _next(plan: Plan) -> NextBody:
    advised = plan.advised
    return NextBody(
        temperature_celsius=known_celsius(advised.temperature),
        time_seconds=advised.time,
        pale=advised.pale,
        good=advised.good,
        over=advised.over,
        goal="first-good-piece" if advised.goal is Goal.FIRST_GOOD else "centre-of-window",
        expected_lost=advised.expected_lost,
    )


def _limits(plan: Plan) -> LimitsBody:
    limits = plan.limits
    return LimitsBody(
        lowest_temperature_celsius=known_celsius(limits.lowest_temperature),
        highest_temperature_celsius=known_celsius(limits.highest_temperature),
        shortest_time_seconds=limits.shortest_time,
        longest_time_seconds=limits.longest_time,
    )


def _map(plan: Plan) -> MapBody:
    window = plan.window
    return MapBody(
        temperatures_celsius=[known_celsius(kelvin) for kelvin in window.temperatures.tolist()],
        times_seconds=window.times.tolist(),
        pale=window.pale.tolist(),
        good=window.good.tolist(),
        over=window.over.tolist(),
    )
