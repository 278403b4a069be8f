"""Whether a setting lies beyond what was said must never be passed."""

from dyecast_api.press_log.entered_values import temperature_words, time_words
from dyecast_api.press_log.log_values import Blank, Press


def beyond_limits(blank: Blank, press: Press, temperature_k: float, time_s: float) -> str:
    """Return in words which limit of blank or press a setting passes, empty when it passes none."""
    pressed, lasted = temperature_words(temperature_k), time_words(time_s)
    for limit, whose in (
        (blank.highest_temperature_k, blank.name),
        (press.highest_temperature_k, press.name),
    ):
        if limit is not None and temperature_k > limit:
            return f"{pressed} lies above the highest of '{whose}', {temperature_words(limit)}"
    if blank.lowest_temperature_k is not None and temperature_k < blank.lowest_temperature_k:
        lowest = temperature_words(blank.lowest_temperature_k)
        return f"{pressed} lies below the lowest of '{blank.name}', {lowest}"
    if blank.longest_time_s is not None and time_s > blank.longest_time_s:
        return f"{lasted} is longer than '{blank.name}' may be pressed, {time_words(blank.longest_time_s)}"
    if blank.shortest_time_s is not None and time_s < blank.shortest_time_s:
        return f"{lasted} is shorter than '{blank.name}' may be pressed, {time_words(blank.shortest_time_s)}"
    return ""
