"""The benchmark's command: read the cases, run the parts asked for, print the tables."""

import argparse
import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from benchmark.agreement import agreement_table
from benchmark.geometry import geometry_summary, geometry_table
from benchmark.in_turn import in_turn
from benchmark.inspected import Answer, inspect_in_process
from benchmark.photo_cases import PhotoCase, read_cases
from benchmark.piece_colour import OurErrors, all_rival_errors, colour_summary, our_errors, piece_table
from benchmark.tables import Table, markdown, write_json
from benchmark.verdicts import confusion, spoiled_table, verdict_summary, verdict_table
from dyecast_calibration.card_layout import CardLayout, known_layouts, load_card_layout

SPEED_CASE = 0
"""Which clear photo is enlarged for the speed table: the first."""


@dataclass
class Benchmark:
    """The cases and what has been worked out about them so far; answers and rivals are computed once."""

    cases: tuple[PhotoCase, ...]
    card: CardLayout
    jobs: int
    floors: bool
    with_rivals: bool = True
    source: str = field(default="photos")

    @cached_property
    def clear(self) -> tuple[PhotoCase, ...]:
        """Cases that can be judged."""
        return tuple(case for case in self.cases if case.kind == "clear")

    @cached_property
    def spoiled(self) -> tuple[PhotoCase, ...]:
        """Cases that must be refused."""
        return tuple(case for case in self.cases if case.kind == "spoiled")

    @cached_property
    def clear_answers(self) -> list[Answer]:
        """What the product says about the clear photos."""
        return in_turn(inspect_in_process, self.clear, jobs=self.jobs, what=f"dyecast, clear {self.source}")

    @cached_property
    def spoiled_answers(self) -> list[Answer]:
        """What the product says about the spoiled photos."""
        return in_turn(
            inspect_in_process, self.spoiled, jobs=self.jobs, what=f"dyecast, spoiled {self.source}"
        )

    @cached_property
    def rivals(self) -> list[dict[str, float]]:
        """Errors of rivals and floors on the clear photos."""
        return all_rival_errors(self.clear, self.card, floors=self.floors, jobs=self.jobs)

    @cached_property
    def ours(self) -> list[OurErrors | None]:
        """The product's colour errors on the clear photos."""
        return [our_errors(case, answer) for case, answer in zip(self.clear, self.clear_answers, strict=True)]


def colour_part(benchmark: Benchmark) -> list[Table]:
    """The product's colour beside rivals and floors."""
    rivals = benchmark.rivals if benchmark.with_rivals else []
    return [
        colour_summary(benchmark.clear, benchmark.ours, rivals),
        piece_table(benchmark.clear, benchmark.ours, rivals),
    ]


def rivals_part(benchmark: Benchmark) -> list[Table]:
    """Rivals and floors alone, without calling the product."""
    nothing: list[OurErrors | None] = [None] * len(benchmark.clear)
    return [
        colour_summary(benchmark.clear, nothing, benchmark.rivals),
        piece_table(benchmark.clear, nothing, benchmark.rivals),
    ]


def geometry_part(benchmark: Benchmark) -> list[Table]:
    """Corners of card and piece."""
    return [
        geometry_summary(benchmark.clear, benchmark.clear_answers),
        geometry_table(benchmark.clear, benchmark.clear_answers),
    ]


def verdicts_part(benchmark: Benchmark) -> list[Table]:
    """Answers on clear and on spoiled photos."""
    return [
        verdict_summary(benchmark.clear, benchmark.clear_answers),
        confusion(benchmark.clear, benchmark.clear_answers),
        verdict_table(benchmark.clear, benchmark.clear_answers),
        spoiled_table(benchmark.spoiled, benchmark.spoiled_answers),
    ]


def agreement_part(benchmark: Benchmark) -> list[Table]:
    """Command line against in process, on the first clear photo."""
    case = benchmark.clear[SPEED_CASE]
    return [agreement_table(case, inspect_in_process(case))]


def speed_part(benchmark: Benchmark) -> list[Table]:
    """Time and memory of one 12-megapixel photo."""
    from benchmark.speed import speed_tables

    print("speed: one photo at 12 megapixels", file=sys.stderr)
    return speed_tables(benchmark.clear[SPEED_CASE])


PARTS: dict[str, Callable[[Benchmark], list[Table]]] = {
    "colour": colour_part,
    "geometry": geometry_part,
    "verdicts": verdicts_part,
    "agreement": agreement_part,
    "speed": speed_part,
}
"""Parts that need the photos, in the order they are printed; `rivals`, `real` and `scenes` come on top."""

EVERY_PART = ("rivals", *PARTS, "real", "scenes", "peek", "faults")
ON_REQUEST = ("rivals", "peek", "faults")
SCENE_PARTS = ("colour", "geometry", "verdicts")


def options() -> argparse.ArgumentParser:
    """Describe the command line."""
    parser = argparse.ArgumentParser(prog="run.py", description="Measure dyecast on photos with truth.")
    parser.add_argument("--photos", type=Path, metavar="FOLDER", help="clear/ and spoiled/ cases with truth")
    parser.add_argument("--real", type=Path, metavar="FOLDER", help="real chart photos with sheet layouts")
    parser.add_argument(
        "--scenes", type=int, default=0, metavar="N", help="score N photos by the scene maker"
    )
    parser.add_argument(
        "--peeks", type=int, default=60, metavar="N", help="peeks by the scene maker, with --only peek"
    )
    parser.add_argument(
        "--faultless", type=int, default=100, metavar="N", help="pieces made without fault for `faults`"
    )
    parser.add_argument(
        "--first-seed", type=int, default=0, metavar="SEED", help="first of the pieces made for `faults`"
    )
    parser.add_argument("--only", nargs="+", choices=EVERY_PART, metavar="NAME", help=", ".join(EVERY_PART))
    parser.add_argument(
        "--card", type=Path, metavar="FILE", help="layout of the card in the photos, for rivals"
    )
    parser.add_argument("--no-rivals", action="store_true", help="leave rivals and floors out of colour")
    parser.add_argument("--jobs", type=int, default=1, metavar="N", help="processes")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the tables as JSON too")
    return parser


def wanted_parts(only: Sequence[str] | None) -> tuple[str, ...]:
    """Name the parts to run: those asked for, or all; rivals, peeks and faults only when asked for."""
    return tuple(only) if only else tuple(part for part in EVERY_PART if part not in ON_REQUEST)


def photo_tables(order: argparse.Namespace, card: CardLayout, parts: Sequence[str]) -> list[Table]:
    """Tables of the given photos."""
    if order.photos is None:
        return []
    cases = read_cases(order.photos)
    benchmark = Benchmark(cases, card, order.jobs, floors=True, with_rivals=not order.no_rivals)
    tables = rivals_part(benchmark) if "rivals" in parts else []
    for name, part in PARTS.items():
        tables += part(benchmark) if name in parts else []
    if "faults" in parts:
        from benchmark.faults import photo_alarm_table

        tables.append(photo_alarm_table(benchmark.clear_answers))
    return tables


def real_tables(order: argparse.Namespace, parts: Sequence[str]) -> list[Table]:
    """Tables of the real chart photos."""
    if order.real is None or "real" not in parts:
        return []
    from benchmark.real_charts import chart_tables

    print("real charts", file=sys.stderr)
    return chart_tables(order.real)


def scene_tables(order: argparse.Namespace, card: CardLayout, parts: Sequence[str]) -> list[Table]:
    """Tables of photos by the scene maker, their titles marked."""
    if order.scenes < 1 or "scenes" not in parts:
        return []
    from benchmark.made_scenes import made_cases

    with tempfile.TemporaryDirectory() as folder:
        cases = made_cases(Path(folder), order.scenes, jobs=order.jobs)
        benchmark = Benchmark(
            cases, card, order.jobs, floors=False, with_rivals=not order.no_rivals, source="made scenes"
        )
        tables = [table for name in SCENE_PARTS for table in PARTS[name](benchmark)]
    return [Table(f"Made scenes: {table.title}", table.columns, table.rows, table.note) for table in tables]


def made_fault_tables(order: argparse.Namespace, parts: Sequence[str]) -> list[Table]:
    """Tables of faults on pieces by the scene maker."""
    if order.faultless < 1 or "faults" not in parts:
        return []
    from benchmark.faults import fault_tables

    return fault_tables(order.faultless, jobs=order.jobs, first_seed=order.first_seed)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the benchmark and print its tables; returns the exit status."""
    order = options().parse_args(arguments)
    parts = wanted_parts(order.only)
    card = load_card_layout(order.card) if order.card else known_layouts()[0]
    tables = photo_tables(order, card, parts) + real_tables(order, parts) + scene_tables(order, card, parts)
    if "peek" in parts:
        from benchmark.peek import peek_tables

        tables += peek_tables(order.peeks, jobs=order.jobs)
    tables += made_fault_tables(order, parts)
    for table in tables:
        print(markdown(table))
    if order.json:
        write_json(order.json, tables)
    return 0 if tables else 2
