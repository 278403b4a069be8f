"""A plan in plain sentences: what to press next, how it may come out, and why."""

import math
from typing import Final

import numpy as np

from dyecast_api.press_log.entered_values import time_words
from dyecast_api.press_plan.plan import Plan
from dyecast_calibration.press.next_pressing import Goal
from dyecast_calibration.press.press_priors import press_priors
from dyecast_shared.units import kelvin_to_celsius, kelvin_to_fahrenheit

SAFETY: Final = (
    "The supplier's sheets for blank, ink, paper and press come before this advice.",
    "The press works near 200 °C: heat-proof gloves, never left closed unattended.",
    "Hot glass looks like cold glass and can break: let it cool for many minutes on a dry, insulating board.",
    "Heated inks, papers and coatings give off fumes: air the room.",
)
"""Common practice, no published source; the README says more."""

NINE_TENTHS: Final = 0.848
"""Dye exposure at which a coating holds nine tenths of its saturation; see `dye_uptake`."""


def advised_words(kelvin: float, seconds: float) -> str:
    """Return a setting to press at, never rounded up beyond itself in either unit.

    >>> advised_words(463.706, 95.0)
    '190 °C (375 °F) for 95 s'
    """
    celsius, fahrenheit = (
        math.floor(value + 0.01) for value in (kelvin_to_celsius(kelvin), kelvin_to_fahrenheit(kelvin))
    )
    return f"{celsius} °C ({fahrenheit} °F) for {_seconds_words(seconds)}"


def percent(share: float) -> str:
    """Return a chance in words; what an ensemble of hundreds cannot tell from certain is not called so.

    >>> percent(0.996), percent(0.42), percent(0.0)
    ('more than 99 %', '42 %', 'less than 1 %')
    """
    if share > 0.99:
        return "more than 99 %"
    return "less than 1 %" if share < 0.01 else f"{100.0 * share:.0f} %"


def advice_sentences(plan: Plan) -> list[str]:
    """Return what to press next, how likely it comes out each way, and what may still be lost."""
    advised = plan.advised
    where = f"'{plan.known.blank.name}' on '{plan.known.press.name}'"
    told = [f"Next: press {where} at {advised_words(advised.temperature, advised.time)}."]
    told.append(
        f"Chance of a good piece {percent(advised.good)}, pale {percent(advised.pale)}, "
        f"over-pressed {percent(advised.over)}."
    )
    counted = "good pieces that are graded wrong included"
    if advised.goal is Goal.FIRST_GOOD:
        lost = f"{advised.expected_lost:.1f}" if advised.expected_lost >= 0.05 else "fewer than 0.1"
        told.append(f"Blanks still to lose until the first good piece, on average: {lost} ({counted}).")
    else:
        lost = percent(advised.expected_lost)
        told.append(f"There is a good piece already. Of pieces pressed so, {lost} are lost ({counted}).")
    return told


def reason_sentences(plan: Plan) -> list[str]:
    """Return in words why that is advised."""
    return [_start(plan), *_because(plan), *_learned(plan), _goal(plan), *_heat(plan), _limits(plan)]


def _start(plan: Plan) -> str:
    supplier = advised_words(plan.supplier.platen_temperature, plan.supplier.time)
    count, others = len(plan.known.tried.tried), sum(len(one.tried) for one in plan.known.others)
    more = f", and of {_pieces(others)} of other blanks on this press" if others else ""
    if count == 0:
        return f"Nothing is known of this blank here but the supplier's {supplier}{more}."
    return f"This is learned of {_pieces(count)}, beside the supplier's {supplier}{more}."


def _because(plan: Plan) -> list[str]:
    """Compare the advice with the supplier's own figure, when that lies within the limits."""
    row = int(np.argmin(np.abs(plan.window.temperatures - plan.supplier.platen_temperature)))
    column = int(np.argmin(np.abs(plan.window.times - plan.supplier.time)))
    same_place = abs(plan.window.temperatures[row] - plan.supplier.platen_temperature) < 0.5
    if not same_place or abs(plan.window.times[column] - plan.supplier.time) > 0.5:
        return ["The supplier's figure itself lies outside the limits."]
    if (
        plan.window.temperatures[row] == plan.advised.temperature
        and plan.window.times[column] == plan.advised.time
    ):
        return ["That is the supplier's own figure."]
    good, pale, over = (
        float(chance[row, column]) for chance in (plan.window.good, plan.window.pale, plan.window.over)
    )
    return [
        f"At the supplier's figure itself a piece would be good with {percent(good)}, pale with "
        f"{percent(pale)}, over-pressed with {percent(over)}."
    ]


def _learned(plan: Plan) -> list[str]:
    """Say what is thought of press and dye; nothing before the first pressing."""
    if not plan.known.tried.tried and not any(one.tried for one in plan.known.others):
        return []
    parameters = plan.learned.parameters
    offset = np.asarray(parameters.platen_offset)
    contact = np.asarray(parameters.contact_scale) / press_priors()["contact_scale"].centre
    seconds = NINE_TENTHS / np.asarray(parameters.dye_mobility)
    low, middle, high = np.percentile(contact, [16.0, 50.0, 84.0])
    quick, usual, slow = np.percentile(seconds, [16.0, 50.0, 84.0])
    platen = f"likely {_hotter(float(offset.mean()))} (± {offset.std():.0f} K)"
    return [
        f"The platen of '{plan.known.press.name}' is {platen}; its contact {middle:.1f} times the usual "
        f"({low:.1f} to {high:.1f}). The dye of this blank takes {usual:.0f} s ({quick:.0f} to {slow:.0f}) "
        "at 200 °C to nine tenths."
    ]


def _goal(plan: Plan) -> str:
    if plan.advised.goal is Goal.CENTRE:
        return (
            "The goal is now the centre of the window, where a few kelvin or seconds more or less do no "
            "harm; among settings as good, the one nearest to a good piece is taken."
        )
    told = (
        "The goal is a good piece with the fewest blanks: this setting loses fewest, counting what its piece "
        "would teach."
    )
    if plan.small_steps:
        told += " Steps are small and over-pressing is shunned, because a blank is dear."
    return told


def _heat(plan: Plan) -> list[str]:
    """Say that an over-pressed piece bounds the heat, when there is one."""
    if not any(one.grades[-1:] == ("over-pressed",) for one in plan.known.tried.tried):
        return []
    return ["More heat than an over-pressed piece had is not advised, unless another piece contradicts it."]


def _limits(plan: Plan) -> str:
    blank, press, limits = plan.known.blank, plan.known.press, plan.limits
    was_set = (
        blank.lowest_temperature_k,
        blank.highest_temperature_k,
        press.highest_temperature_k,
        blank.shortest_time_s,
        blank.longest_time_s,
    )
    usual = "never hotter than the supplier says, half to three times as long"
    whose = (
        f"your limits, and where you set none, {usual}"
        if any(was_set)
        else f"{usual}, since you set no limits"
    )
    low, high = (
        f"{kelvin_to_celsius(k):.0f} °C ({kelvin_to_fahrenheit(k):.0f} °F)"
        for k in (limits.lowest_temperature, limits.highest_temperature)
    )
    return (
        f"Nothing is advised outside {low} to {high} and {time_words(limits.shortest_time)} to "
        f"{time_words(limits.longest_time)}: {whose}."
    )


def _hotter(kelvin: float) -> str:
    if abs(kelvin) < 0.5:
        return "as hot as it says"
    return f"{abs(kelvin):.0f} K {'hotter' if kelvin > 0.0 else 'cooler'} than it says"


def _pieces(count: int) -> str:
    return f"{count} piece" if count == 1 else f"{count} pieces"


def _seconds_words(seconds: float) -> str:
    """Return seconds, and minutes beside them when there are some."""
    told = time_words(seconds)
    return told if "min" not in told else f"{told} ({seconds:.0f} s)"
