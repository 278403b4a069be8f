"""The terminal: results and messages apart, colour only where it is wanted."""

import io
import sys

import pytest

from dyecast_api.terminal import PhotoProgress, in_verdict_colour, may_colour, print_result, print_trouble


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def test_colour_needs_a_terminal_and_no_wish_against_it() -> None:
    assert may_colour(Terminal(), {"TERM": "xterm"})
    assert not may_colour(io.StringIO(), {"TERM": "xterm"})
    assert not may_colour(Terminal(), {"NO_COLOR": "1"})
    assert not may_colour(Terminal(), {"TERM": "dumb"})
    assert may_colour(Terminal(), {"NO_COLOR": ""})


def test_a_verdict_keeps_its_words_with_and_without_colour(monkeypatch: pytest.MonkeyPatch) -> None:
    assert in_verdict_colour("Good", "good") == "Good"
    monkeypatch.setattr(sys, "stdout", Terminal())
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    assert in_verdict_colour("Good", "good") == "\x1b[1;32mGood\x1b[0m"


def test_results_and_messages_go_separate_ways(capsys: pytest.CaptureFixture[str]) -> None:
    print_result("result")
    print_trouble("message")
    assert capsys.readouterr() == ("result\n", "message\n")


def test_progress_shows_on_a_terminal_counts_photos_and_wipes_itself_away(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setenv("TERM", "xterm")
    with PhotoProgress(2) as progress:
        progress.say("Finding the card")
        progress.photo_done()
        with progress.aside():
            pass
    shown = terminal.getvalue()
    assert "Finding the card" in shown
    assert "1/2" in shown
    assert shown.endswith(("\x1b[2K", "\x1b[?25h"))


@pytest.mark.parametrize("quiet", [True, False])
def test_progress_is_silent_when_nobody_watches_or_quiet_is_asked(
    monkeypatch: pytest.MonkeyPatch, quiet: bool
) -> None:
    stream = Terminal() if quiet else io.StringIO()
    monkeypatch.setattr(sys, "stderr", stream)
    with PhotoProgress(2, quiet=quiet) as progress:
        progress.say("Finding the card")
        progress.photo_done()
        with progress.aside():
            pass
    assert stream.getvalue() == ""
