"""Tables of the press log: presses, blanks, recipes, pressings and their grades.

Temperatures in kelvin, times in seconds, lengths in millimetres, pressures in kilopascal.
"""

from typing import Final

from sqlalchemy import Column, Float, ForeignKey, Integer, String, Table, Text, UniqueConstraint

from dyecast_api.store.metadata import Moment, metadata, row_number, shop_column

presses: Final = Table(
    "presses",
    metadata,
    row_number(),
    shop_column(),
    Column("name", String(200), nullable=False),
    Column("notes", Text, nullable=False, default=""),
    Column("highest_temperature_k", Float),
    Column("created_at", Moment, nullable=False),
    UniqueConstraint("shop_id", "name"),
)
"""The shop's presses."""

blanks: Final = Table(
    "blanks",
    metadata,
    row_number(),
    shop_column(),
    Column("name", String(200), nullable=False),
    Column("material", String(40), nullable=False),  # a name of materials.json
    Column("thickness_mm", Float, nullable=False),
    Column("coating_side", String(20), nullable=False),  # front (towards the eye) or back (seen through)
    Column("supplier_temperature_k", Float),
    Column("supplier_time_s", Float),
    Column("lowest_temperature_k", Float),
    Column("highest_temperature_k", Float),
    Column("shortest_time_s", Float),
    Column("longest_time_s", Float),
    Column("cost", Float),
    Column("currency", String(3)),
    Column("created_at", Moment, nullable=False),
    UniqueConstraint("shop_id", "name"),
)
"""Kinds of blank: what they are made of, what their supplier says, and what must not be exceeded."""

recipes: Final = Table(
    "recipes",
    metadata,
    row_number(),
    shop_column(),
    Column("name", String(200), nullable=False),
    Column("press_id", ForeignKey("presses.id"), nullable=False),
    Column("blank_id", ForeignKey("blanks.id"), nullable=False),
    Column("ink", String(200), nullable=False, default=""),
    Column("paper", String(200), nullable=False, default=""),
    Column("protective_sheet", String(200), nullable=False, default=""),
    Column("pad", String(200), nullable=False, default=""),
    Column("temperature_k", Float, nullable=False),
    Column("time_s", Float, nullable=False),
    Column("pressure_kpa", Float),
    Column("through_blank", Integer, nullable=False, default=0),  # 1 when the blank lies towards the platen
    Column("created_at", Moment, nullable=False),
    Column("retired_at", Moment),
    UniqueConstraint("shop_id", "name"),
)
"""How a blank is pressed on a press. A changed recipe is a new row; pressings keep theirs."""

pressings: Final = Table(
    "pressings",
    metadata,
    row_number(),
    shop_column(),
    Column("recipe_id", ForeignKey("recipes.id"), nullable=False, index=True),
    Column("batch_id", ForeignKey("batches.id"), index=True),
    Column("piece_number", Integer),  # within its batch, from 1
    Column("inspection_id", ForeignKey("inspections.id")),
    Column("photo_sha256", String(64)),
    Column("pressed_at", Moment, nullable=False),
    Column("logged_at", Moment, nullable=False),
    Column("temperature_k", Float, nullable=False),
    Column("time_s", Float, nullable=False),
    Column("pressure_kpa", Float),
    Column("grade", String(20)),  # under-pressed, good, over-pressed; none until judged
    Column("confidence", Float),
    Column("judged_by", String(200), nullable=False, default="dyecast"),
    Column("transferred_fraction", Float),
    Column("transferred_fraction_uncertainty", Float),
    Column("delta_e_2000", Float),  # median, against the artwork
    Column("delta_e_2000_first", Float),  # median, against the batch's first piece
    Column("veil", Float),  # share of white added
    Column("lost", Integer, nullable=False, default=0),  # 1 when the blank was thrown away
    Column("taken_back_at", Moment),  # an entry made by mistake stays, marked
    Column("note", Text, nullable=False, default=""),
    UniqueConstraint("batch_id", "piece_number"),
)
"""One row a piece pressed."""

pressing_grades: Final = Table(
    "pressing_grades",
    metadata,
    row_number(),
    shop_column(),
    Column("pressing_id", ForeignKey("pressings.id"), nullable=False, index=True),
    Column("grade", String(20), nullable=False),
    Column("judged_by", String(200), nullable=False),
    Column("judged_at", Moment, nullable=False),
)
"""Every grade a piece was ever given; the newest one stands in `pressings` as well."""
