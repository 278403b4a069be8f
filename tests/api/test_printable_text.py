"""Text from outside becomes text that terminals, pages and documents can hold."""

from hypothesis import given
from hypothesis import strategies as st

from dyecast_api.printable_text import printable


@given(st.text(st.characters()))
def test_any_name_becomes_one_line_every_page_and_terminal_can_hold(name: str) -> None:
    shown = printable(name)
    assert shown.encode("utf-8").decode("utf-8") == shown
    assert shown.isprintable()


def test_a_file_name_cannot_send_commands_to_the_terminal() -> None:
    assert printable("tile\x1b[31m\udcff.jpg") == "tile?[31m?.jpg"


def test_every_kind_of_white_space_is_a_plain_space() -> None:
    assert printable("15\u00a0s\nlonger\tthan") == "15 s longer than"


def test_letters_of_every_script_stay() -> None:
    assert printable("Fliese Größe 5 – 写真 ΔE00") == "Fliese Größe 5 – 写真 ΔE00"
