"""The report marks published limits on its scale of differences, and where this piece lies among them."""

import re

from dyecast_api.report_scale import PUBLISHED_LIMITS, scale_marks, scale_numbers
from dyecast_inspect.inspection import ColourDifference


def places(html: str) -> dict[str, float]:
    """Read the signs on the scale and how far along it they stand, in percent."""
    return {sign: float(left) for left, sign in re.findall(r'left:([\d.]+)%">([^<]+)<', html)}


def test_published_limits_stand_where_their_values_lie_on_a_scale_to_ten() -> None:
    """Paravina et al. 2015 (ISO/TR 28642:2016 rests on it): 0.8 and 1.8; ISO 12647-2 and -7: 3.5 and 5.0."""
    assert places(scale_marks(None)) == {"a": 8.0, "b": 18.0, "c": 35.0, "d": 50.0}


def test_numbers_stand_on_the_same_scale_as_the_marks() -> None:
    assert places(scale_numbers()) == {"0": 0.0, "2": 20.0, "4": 40.0, "6": 60.0, "8": 80.0, "10+": 100.0}


def test_every_mark_is_said_in_words_with_its_source() -> None:
    words = scale_marks(None)
    for limit in PUBLISHED_LIMITS:
        assert f"<b>{limit.letter}</b> {limit.delta_e_2000}: " in words
        assert limit.source in words


def test_the_piece_itself_is_marked_by_its_median() -> None:
    marked = scale_marks(ColourDifference(mean=3.0, median=2.4, p95=6.0))
    assert places(marked)["\u25c6"] == 24.0
    assert "2.4: this piece, median</li>" in marked


def test_a_piece_beyond_the_scale_stands_at_its_end_and_the_words_say_so() -> None:
    marked = scale_marks(ColourDifference(mean=15.0, median=14.2, p95=20.0))
    assert places(marked)["\u25c6"] == 100.0
    assert "14.2: this piece, median, beyond the scale" in marked
