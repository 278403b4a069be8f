"""What pressing costs, over HTTP: as numbers, and as a table for a spreadsheet."""

from datetime import datetime
from typing import Annotated, Final, Self

from fastapi import APIRouter, Query, Response
from pydantic import AwareDatetime, Field

from dyecast_api.press_log.log_rows import all_blanks, all_presses
from dyecast_api.press_log.pressings import logged_pressings
from dyecast_api.server.api_inspections import EARLIEST, LATEST
from dyecast_api.server.api_models import PREFIX, Body
from dyecast_api.server.caller import BenchCaller
from dyecast_api.server.documented import SIGNED_IN, document_answer, problems
from dyecast_api.server.state import Server, ServerState
from dyecast_api.store.database import reading
from dyecast_api.worth import worth_lines
from dyecast_api.worth.worth_lines import FIRST_PIECE, Worth, WorthLine
from dyecast_api.worth.worth_text import worth_csv

router = APIRouter(prefix=PREFIX, tags=["press log"], responses=problems(*SIGNED_IN))

DECIMALS: Final = 4
"""Of a sum, as in the table."""

Moment = Annotated[AwareDatetime | None, Query(ge=EARLIEST, le=LATEST)]


class CostBody(Body):
    """A sum in one currency, which is empty where nobody said."""

    amount: float
    currency: str = Field(examples=["EUR"])


class WorthLineBody(Body):
    """Counts of a blank, a press, a month, or of everything."""

    name: str
    pressed: int
    not_good: int = Field(description="Of those that were graded.")
    lost: int
    cost_of_lost: list[CostBody]
    lost_without_cost: int = Field(description="Lost blanks of which nobody said what they cost.")
    runs: int = Field(description="Runs whose first piece was graded.")
    first_piece_good: int
    first_piece_yield: float | None = Field(description="0 to 1.")

    @classmethod
    def of(cls, line: WorthLine) -> Self:
        """Return a line as a body."""
        return cls(
            name=line.name,
            pressed=line.pressed,
            not_good=line.not_good,
            lost=line.lost,
            cost_of_lost=[
                CostBody(amount=round(cost, DECIMALS), currency=code)
                for code, cost in sorted(line.cost.items())
            ],
            lost_without_cost=line.lost_without_cost,
            runs=line.runs,
            first_piece_good=line.first_good,
            first_piece_yield=line.first_piece_yield,
        )


class WorthBody(Body):
    """Blanks lost, what they cost, and how often the first piece of a run is good."""

    by_blank: list[WorthLineBody]
    by_press: list[WorthLineBody]
    by_month: list[WorthLineBody]
    total: WorthLineBody
    first_piece: str = Field(description="What a run and its first piece are.")

    @classmethod
    def of(cls, worth: Worth) -> Self:
        """Return the tables as a body."""
        return cls(
            by_blank=[WorthLineBody.of(line) for line in worth.by_blank],
            by_press=[WorthLineBody.of(line) for line in worth.by_press],
            by_month=[WorthLineBody.of(line) for line in worth.by_month],
            total=WorthLineBody.of(worth.total),
            first_piece=FIRST_PIECE,
        )


@router.get("/worth", operation_id="getWorth")
def worth(
    server: Server, caller: BenchCaller, pressed_from: Moment = None, pressed_before: Moment = None
) -> WorthBody:
    """Count blanks lost, their cost, and first-piece yield, by blank, press and month."""
    return WorthBody.of(_counted(server, caller.shop_id, pressed_from, pressed_before))


@router.get(
    "/worth.csv",
    operation_id="exportWorth",
    response_class=Response,
    responses=document_answer("text/csv", "One line a name and currency (RFC 4180)."),
)
def worth_table(
    server: Server, caller: BenchCaller, pressed_from: Moment = None, pressed_before: Moment = None
) -> Response:
    """Return the same as CSV, UTF-8."""
    table = worth_csv(_counted(server, caller.shop_id, pressed_from, pressed_before))
    headers = {"Content-Disposition": 'attachment; filename="worth.csv"'}
    return Response(table, media_type="text/csv; charset=utf-8", headers=headers)


def _counted(server: ServerState, shop_id: int, first: datetime | None, last: datetime | None) -> Worth:
    """Count what was pressed from `first` on and before `last`."""
    with reading(server.engine) as connection:
        pressed = [
            one
            for one in logged_pressings(connection, shop_id)
            if (first is None or one.pressing.pressed_at >= first)
            and (last is None or one.pressing.pressed_at < last)
        ]
        return worth_lines.worth(pressed, all_blanks(connection, shop_id), all_presses(connection, shop_id))
