"""Lists of inspections use an index whatever is asked, so they stay fast at a hundred thousand rows."""

from pathlib import Path

import pytest
from sqlalchemy import Connection

from dyecast_api.records.inspection_records import InspectionFilter, matching_numbers
from dyecast_api.store.database import open_database, reading

ASKED = {
    "all": InspectionFilter(),
    "a verdict": InspectionFilter(verdict="good"),
    "an artwork": InspectionFilter(artwork_id=1),
    "a batch": InspectionFilter(batch_id=1),
    "a name": InspectionFilter(search="magnet"),
}


def plan_of(connection: Connection, asked: InspectionFilter) -> str:
    """Return SQLite's plan for a page."""
    statement = matching_numbers(connection, 1, asked, 1000, 50)
    text = str(statement.compile(connection, compile_kwargs={"literal_binds": True}))
    return "\n".join(row[-1] for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {text}"))


@pytest.mark.parametrize("name", ASKED)
def test_a_page_is_found_by_an_index(tmp_path: Path, name: str) -> None:
    engine = open_database(f"sqlite:///{tmp_path}/shop.sqlite3")
    with reading(engine) as connection:
        plan = plan_of(connection, ASKED[name])
    engine.dispose()
    assert "SEARCH inspections USING" in plan
    assert "SCAN inspections" not in plan


def test_a_name_is_looked_for_without_reading_whole_rows(tmp_path: Path) -> None:
    engine = open_database(f"sqlite:///{tmp_path}/shop.sqlite3")
    with reading(engine) as connection:
        assert "USING COVERING INDEX" in plan_of(connection, ASKED["a name"])
    engine.dispose()
