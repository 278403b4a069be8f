"""A quantity's two charts laid out as lines, markers and labels, for any kind of picture.

Screen (`batch_chart_svg`) and paper (`batch_chart_pdf`) draw the same primitives. Lengths are in units of the
drawing, `WIDTH` wide; x to the right, y down. `role` says what a primitive is, and so how it looks.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from dyecast_api.batches.batch_charts import QuantityCharts
from dyecast_api.batches.batch_series import QUANTITY_WORDS, QuantityWords
from dyecast_api.batches.batch_words import number_spans
from dyecast_calibration.batch.chart_signals import Rule, Side, Signal

WIDTH: Final = 360.0
LEFT, RIGHT = 46.0, 62.0
VALUES_TOP, VALUES_HEIGHT = 26.0, 150.0
AVERAGE_HEIGHT: Final = 100.0
BETWEEN, BELOW = 30.0, 24.0
"""Our own choice: fills a phone held upright with letters of 12 px."""

LABEL_DISTANCE: Final = 12.0
"""Between two labels' baselines, so that they do not lie on each other."""

RULE_LABELS: Final = {
    Rule.BEYOND_LIMIT: "1",
    Rule.TWO_OF_THREE: "2",
    Rule.FOUR_OF_FIVE: "3",
    Rule.EIGHT_ON_ONE_SIDE: "4",
    Rule.MOVING_RANGE: "R",
    Rule.EWMA: "E",
}
"""What stands beside a point that signals: a zone rule's number, R for a moving range, E for the EWMA."""

Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points; roles: axis, grid, centre, limit, values, average, bar."""

    points: Points
    role: str


@dataclass(frozen=True, slots=True)
class Marker:
    """A dot of a piece, or the shape around one that signals: a shape of `chart_signals`, or ``dot``."""

    x: float
    y: float
    shape: str


@dataclass(frozen=True, slots=True)
class Label:
    """A text; `anchor` is start, middle or end; roles: title, tick, side, signal."""

    x: float
    y: float
    text: str
    anchor: str
    role: str


@dataclass(frozen=True, slots=True)
class ChartDrawing:
    """A whole drawing with its title and its description in words."""

    height: float
    title: str
    description: str
    lines: tuple[Line, ...]
    markers: tuple[Marker, ...]
    labels: tuple[Label, ...]


@dataclass(frozen=True, slots=True)
class _Panel:
    """One panel: where it lies, what it shows, and its scale; values are in the shown unit."""

    top: float
    height: float
    lowest: float
    highest: float
    first: int
    last: int

    def x(self, number: float) -> float:
        share = 0.5 if self.last == self.first else (number - self.first) / (self.last - self.first)
        return LEFT + 6.0 + share * (WIDTH - LEFT - RIGHT - 12.0)

    def y(self, value: float) -> float:
        return self.top + self.height * (self.highest - value) / (self.highest - self.lowest)

    def line(self, numbers: Sequence[int], values: Sequence[float], role: str) -> Line:
        return Line(
            tuple((self.x(number), self.y(value)) for number, value in zip(numbers, values, strict=True)),
            role,
        )


def chart_drawing(charts: QuantityCharts) -> ChartDrawing:
    """Lay out a quantity's charts: single values with bars of uncertainty above, weighted average below."""
    words = QUANTITY_WORDS[charts.quantity]
    lines: list[Line] = []
    markers: list[Marker] = []
    labels: list[Label] = []
    height = VALUES_TOP + VALUES_HEIGHT + BELOW
    values = _values_panel(charts, words)
    for part in (_values_parts(charts, words, values), _ewma_parts(charts, words, values)):
        lines += part[0]
        markers += part[1]
        labels += part[2]
    if charts.ewma is not None:
        height += BETWEEN + AVERAGE_HEIGHT + BELOW
    return ChartDrawing(
        height,
        f"{words.name}, {words.unit}",
        chart_description(charts),
        tuple(lines),
        tuple(markers),
        tuple(labels),
    )


def chart_description(charts: QuantityCharts) -> str:
    """Say in words what the charts show, for whoever does not see them."""
    words, series = QUANTITY_WORDS[charts.quantity], charts.series
    shown = [words.scale * value for value in series.values]
    span = f"{_figure(min(shown), words)} to {_figure(max(shown), words)} {words.unit}"
    first, last = series.piece_numbers[0], series.piece_numbers[-1]
    told = [f"{words.name} of {len(series)} pieces, number {first} to {last}: {span}."]
    if charts.individuals is None:
        told.append(charts.why_no_limits)
    else:
        lowest, highest = charts.individuals.lower_limits[-1], charts.individuals.upper_limits[-1]
        told.append(
            f"Centre {_figure(words.scale * charts.individuals.baseline.centre, words)}, limits "
            f"{_figure(words.scale * lowest, words)} and {_figure(words.scale * highest, words)} "
            f"{words.unit}, from the first {charts.individuals.baseline.pieces} pieces."
        )
        told.append(_signal_words(charts.signals))
    return " ".join(told)


def _signal_words(signals: Sequence[Signal]) -> str:
    if not signals:
        return "No point signals."
    numbers = {rule: [one.piece_number for one in signals if one.rule is rule] for rule in Rule}
    told = [
        f"{RULE_LABELS[rule]} at piece{'s' if len(found) > 1 else ''} {number_spans(found)}"
        for rule, found in numbers.items()
        if found
    ]
    return f"Signals: {'; '.join(told)}."


def _values_panel(charts: QuantityCharts, words: QuantityWords) -> _Panel:
    series = charts.series
    pairs = list(zip(series.values, series.standard_uncertainties, strict=True))
    reached = [value - own for value, own in pairs] + [value + own for value, own in pairs]
    if charts.individuals is not None:
        reached += [*charts.individuals.lower_limits, *charts.individuals.upper_limits]
    return _panel(charts, words, reached, VALUES_TOP, VALUES_HEIGHT)


def _panel(
    charts: QuantityCharts, words: QuantityWords, reached: Sequence[float], top: float, height: float
) -> _Panel:
    """Return a panel whose scale reaches a little beyond the values; a flat series gets room around it."""
    lowest, highest = words.scale * min(reached), words.scale * max(reached)
    room = 0.12 * (highest - lowest) or 10.0**-words.decimals
    numbers = charts.series.piece_numbers
    return _Panel(top, height, lowest - room, highest + room, numbers[0], numbers[-1])


Parts = tuple[list[Line], list[Marker], list[Label]]


def _values_parts(charts: QuantityCharts, words: QuantityWords, panel: _Panel) -> Parts:
    """Lay out the single values: frame, limits, bars, dots, signals."""
    series = charts.series
    shown = [words.scale * value for value in series.values]
    bars = ", bars: standard uncertainty of one photo" if any(series.standard_uncertainties) else ""
    lines, labels = _frame(panel, words, f"Single pieces{bars}")
    if charts.individuals is not None:
        chart = charts.individuals
        more, side = _limits(
            panel, words, series.piece_numbers, chart.lower_limits, chart.upper_limits, chart.baseline.centre
        )
        lines, labels = [*lines, *more], [*labels, *side]
    lines += _bars(charts, words, panel)
    lines.append(panel.line(series.piece_numbers, shown, "values"))
    dots = [
        Marker(panel.x(number), panel.y(one), "dot")
        for number, one in zip(series.piece_numbers, shown, strict=True)
    ]
    signals = [] if charts.individuals is None else list(charts.individuals.signals)
    marks, names = _signals(panel, signals, shown)
    return lines, [*dots, *marks], [*labels, *names, *_piece_ticks(panel)]


def _ewma_parts(charts: QuantityCharts, words: QuantityWords, values: _Panel) -> Parts:
    """Lay out the weighted average below; nothing without limits."""
    chart = charts.ewma
    if chart is None:
        return [], [], []
    top = values.top + values.height + BELOW + BETWEEN
    reached = [*chart.averages, *chart.lower_limits, *chart.upper_limits]
    panel = _panel(charts, words, reached, top, AVERAGE_HEIGHT)
    shown = [words.scale * value for value in chart.averages]
    numbers = chart.series.piece_numbers
    lines, labels = _frame(
        panel, words, f"Weighted average (EWMA, newest piece counts {chart.design.weight:g})"
    )
    more, side = _limits(panel, words, numbers, chart.lower_limits, chart.upper_limits, chart.baseline.centre)
    marks, names = _signals(panel, chart.signals, shown)
    lines = [*lines, *more, panel.line(numbers, shown, "average")]
    return lines, marks, [*labels, *side, *names, *_piece_ticks(panel)]


def _frame(panel: _Panel, words: QuantityWords, title: str) -> tuple[list[Line], list[Label]]:
    """Lay out axis, grid and the ticks of the values."""
    right, bottom = WIDTH - RIGHT, panel.top + panel.height
    lines = [Line(((LEFT, panel.top), (LEFT, bottom), (right, bottom)), "axis")]
    labels = [Label(0.0, panel.top - 10.0, title, "start", "title")]
    for tick in _ticks(panel.lowest, panel.highest):
        y = panel.y(tick)
        lines.append(Line(((LEFT, y), (right, y)), "grid"))
        labels.append(Label(LEFT - 5.0, y + 4.0, _tick_text(tick, words), "end", "tick"))
    return lines, labels


def _limits(  # noqa: PLR0913, PLR0917 (what a pair of limits is made of)
    panel: _Panel,
    words: QuantityWords,
    numbers: Sequence[int],
    lower: Sequence[float],
    upper: Sequence[float],
    centre: float,
) -> tuple[list[Line], list[Label]]:
    """Lay out centre and limits, each with its figure at the right; labels too close are left out."""
    lines, labels = [], []
    flat = [centre] * len(numbers)
    told = ((upper, "limit", "limit"), (flat, "centre", "centre"), (lower, "limit", "limit"))
    last_y = -LABEL_DISTANCE
    for values, role, name in told:
        shown = [words.scale * value for value in values]
        lines.append(panel.line(numbers, shown, role))
        y = panel.y(shown[-1]) + 4.0
        if y - last_y >= LABEL_DISTANCE:
            text = f"{_figure(shown[-1], words)} {name}"
            labels.append(Label(WIDTH - RIGHT + 4.0, y, text, "start", "side"))
            last_y = y
    return lines, labels


def _bars(charts: QuantityCharts, words: QuantityWords, panel: _Panel) -> Iterator[Line]:
    """Yield a bar of one standard uncertainty either way for each piece that has one."""
    series = charts.series
    for number, value, own in zip(
        series.piece_numbers, series.values, series.standard_uncertainties, strict=True
    ):
        if own > 0.0:
            x = panel.x(number)
            low, high = (panel.y(words.scale * (value + sign * own)) for sign in (-1.0, 1.0))
            yield Line(((x, low), (x, high)), "bar")


def _signals(
    panel: _Panel, signals: Sequence[Signal], shown: Sequence[float]
) -> tuple[list[Marker], list[Label]]:
    """Lay out one shape around each signalling point, and where a rule begins to signal its label.

    The shape is that of the point's first rule. Labels stand on the side that the point went to, and further
    out where the one before stands close.
    """
    rules: dict[int, set[Rule]] = {}
    for signal in signals:
        rules.setdefault(signal.index, set()).add(signal.rule)
    first = {signal.index: signal for signal in sorted(signals, key=lambda one: -list(Rule).index(one.rule))}
    markers = [
        Marker(panel.x(one.piece_number), panel.y(shown[index]), one.shape) for index, one in first.items()
    ]
    labels: list[Label] = []
    for index, one in sorted(first.items()):
        begins = rules[index] - rules.get(index - 1, set())
        if begins:
            text = ",".join(RULE_LABELS[rule] for rule in Rule if rule in begins)
            labels += _signal_label(panel, one, shown[index], text, labels)
    return markers, labels


def _signal_label(panel: _Panel, signal: Signal, value: float, text: str, before: list[Label]) -> list[Label]:
    """Return a label beside a signalling point, clear of those before; none where there is no room.

    The point's shape stays, and the description names all signals.
    """
    x, y = panel.x(signal.piece_number), panel.y(value)
    outward = -1.0 if signal.side is Side.ABOVE else 1.0
    if not panel.top < y + outward * 2.0 * LABEL_DISTANCE < panel.top + panel.height:
        outward = -outward
    place = y + (-10.0 if outward < 0.0 else 19.0)
    while any(abs(x - one.x) < 22.0 and abs(place - one.y) < LABEL_DISTANCE for one in before):
        place += outward * LABEL_DISTANCE
    has_room = panel.top - LABEL_DISTANCE < place < panel.top + panel.height
    return [Label(x, place, text, "middle", "signal")] if has_room else []


def _piece_ticks(panel: _Panel) -> list[Label]:
    """Lay out piece numbers below a panel: the first, the last, and round ones between."""
    y = panel.top + panel.height + 15.0
    numbers = {panel.first, panel.last}
    span = panel.last - panel.first
    numbers |= {int(tick) for tick in _ticks(panel.first, panel.last) if tick == int(tick)}
    kept = [
        one
        for one in sorted(numbers)
        if one in {panel.first, panel.last} or min(one - panel.first, panel.last - one) > 0.1 * span
    ]
    return [
        *(Label(panel.x(one), y, f"{one}", "middle", "tick") for one in kept),
        Label(WIDTH - RIGHT + 4.0, y, "piece", "start", "tick"),
    ]


def _ticks(lowest: float, highest: float) -> list[float]:
    """Return three to six round numbers between two numbers."""
    rough = (highest - lowest) / 4.0
    if rough <= 0.0:
        return []
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * one for one in (1.0, 2.0, 5.0, 10.0) if power * one >= rough)
    return [step * index for index in range(math.ceil(lowest / step), math.floor(highest / step) + 1)]


def _tick_text(tick: float, words: QuantityWords) -> str:
    text = f"{tick:.{words.decimals}f}"
    short = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if short in {"-0", ""} else short


def _figure(value: float, words: QuantityWords) -> str:
    return f"{value:.{words.decimals}f}"
