"""The press log's rows: kept, found by name, graded again, taken back, and never another shop's."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import Connection, insert

from api.press_log.logs import MAGNET, NOON, PRESS, pressing, set_up
from dyecast_api.press_log.log_rows import (
    add_blank,
    all_blanks,
    all_presses,
    all_recipes,
    blank_named,
    press_named,
    recipe_named,
)
from dyecast_api.press_log.log_values import GivenGrade
from dyecast_api.press_log.pressings import (
    add_grade,
    add_pressing,
    logged_pressings,
    pressing_numbered,
    take_back_pressing,
)
from dyecast_api.store.database import first_shop_id, open_database, writing
from dyecast_api.store.shop_tables import shops
from dyecast_shared.errors import PressLogInvalid


@pytest.fixture
def connection(tmp_path: Path) -> Iterator[Connection]:
    engine = open_database(f"sqlite:///{tmp_path}/shop.sqlite3")
    with writing(engine) as opened:
        yield opened
    engine.dispose()


def test_what_is_kept_comes_back_as_it_was(connection: Connection) -> None:
    shop = first_shop_id(connection)
    recipe = set_up(connection, shop)
    assert press_named(connection, shop, "big").created_at == PRESS.created_at
    assert blank_named(connection, shop, "magnet").supplier_time_s == MAGNET.supplier_time_s
    assert recipe_named(connection, shop, "magnets") == recipe
    number = add_pressing(connection, shop, pressing(recipe, lost=True, grade="good", note="first"))
    kept = pressing_numbered(connection, shop, number)
    assert (kept.lost, kept.grade, kept.note, kept.pressed_at) == (True, "good", "first", NOON)


def test_a_name_is_taken_once_and_an_unknown_one_is_answered_with_those_there_are(
    connection: Connection,
) -> None:
    shop = first_shop_id(connection)
    set_up(connection, shop)
    with pytest.raises(PressLogInvalid, match="'magnet' in blanks already"):
        add_blank(connection, shop, MAGNET)
    with pytest.raises(PressLogInvalid, match="There are: 'magnet'"):
        blank_named(connection, shop, "tile")


def test_a_second_grade_counts_and_the_first_stays(connection: Connection) -> None:
    shop = first_shop_id(connection)
    number = add_pressing(connection, shop, pressing(set_up(connection, shop), grade="good", judged_by="Kim"))
    add_grade(connection, shop, GivenGrade(number, "under-pressed", "Lee", NOON + timedelta(hours=1)))
    (logged,) = logged_pressings(connection, shop)
    assert (logged.pressing.grade, logged.pressing.judged_by) == ("under-pressed", "Lee")
    assert [(given.grade, given.judged_by) for given in logged.grades] == [
        ("good", "Kim"),
        ("under-pressed", "Lee"),
    ]


def test_a_pressing_taken_back_no_longer_counts_but_is_still_there(connection: Connection) -> None:
    shop = first_shop_id(connection)
    number = add_pressing(connection, shop, pressing(set_up(connection, shop)))
    take_back_pressing(connection, shop, number, NOON)
    assert logged_pressings(connection, shop) == ()
    (still,) = logged_pressings(connection, shop, taken_back=True)
    assert still.pressing.taken_back_at == NOON
    with pytest.raises(PressLogInvalid, match="taken back before"):
        take_back_pressing(connection, shop, number, NOON)


def test_the_log_keeps_its_own_order_whatever_the_clock_says(connection: Connection) -> None:
    shop = first_shop_id(connection)
    recipe = set_up(connection, shop)
    late = add_pressing(connection, shop, pressing(recipe, pressed_at=NOON))
    early = add_pressing(connection, shop, pressing(recipe, pressed_at=NOON - timedelta(days=3)))
    assert [logged.pressing.number for logged in logged_pressings(connection, shop)] == [late, early]


def test_another_shop_sees_and_changes_nothing(connection: Connection) -> None:
    shop = first_shop_id(connection)
    other = int(
        (connection.execute(insert(shops).values(name="other", created_at=NOON)).inserted_primary_key or [0])[
            0
        ]
    )
    recipe = set_up(connection, shop)
    number = add_pressing(connection, shop, pressing(recipe, grade="good"))
    seen = [read(connection, other) for read in (all_presses, all_blanks, all_recipes, logged_pressings)]
    assert seen == [(), (), (), ()]
    with pytest.raises(PressLogInvalid, match="recipe that this shop does not have"):
        add_pressing(connection, other, pressing(recipe))
    with pytest.raises(PressLogInvalid, match="no pressing"):
        add_grade(connection, other, GivenGrade(number, "good", "Kim", NOON))
    with pytest.raises(PressLogInvalid, match="no pressing"):
        take_back_pressing(connection, other, number, NOON)


@pytest.mark.parametrize("wrong", [{"grade": "great"}, {"time_s": 0.0}, {"time_s": float("nan")}])
def test_a_pressing_that_cannot_be_is_refused(connection: Connection, wrong: dict[str, object]) -> None:
    shop = first_shop_id(connection)
    with pytest.raises(PressLogInvalid):
        add_pressing(connection, shop, pressing(set_up(connection, shop), **wrong))
