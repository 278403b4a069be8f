"""How a command that runs until it is stopped hears the stop."""

import signal
import sys
import time
from collections.abc import Iterator

import pytest
import uvicorn

from dyecast_api.server.run_server import let_a_stop_be_an_ordinary_end
from dyecast_api.told_to_stop import ToldToStop, stop_again

NUMBERS = (signal.SIGTERM, signal.SIGINT, signal.SIGALRM)


@pytest.fixture(autouse=True)
def handlers_put_back() -> Iterator[None]:
    before = {number: signal.getsignal(number) for number in NUMBERS}
    yield
    for number, handler in before.items():
        signal.signal(number, handler)


class EndedBySignal:
    """An object in whose finalizer the signal happens to come; what is raised there, Python swallows."""

    def __init__(self, number: signal.Signals = signal.SIGTERM) -> None:
        self.number = number

    def __del__(self) -> None:
        signal.raise_signal(self.number)


@pytest.mark.parametrize(("number", "status"), [(signal.SIGTERM, 143), (signal.SIGINT, 130)])
def test_a_stop_ends_the_waiting_with_the_status_a_shell_knows(number: signal.Signals, status: int) -> None:
    told = ToldToStop().listen()
    signal.raise_signal(number)
    assert told.wait() == status


def test_a_stop_that_comes_inside_a_finalizer_is_heard() -> None:
    told = ToldToStop().listen()
    EndedBySignal()
    assert told.wait() == 143


def test_the_first_of_several_stops_names_the_status() -> None:
    told = ToldToStop().listen()
    signal.raise_signal(signal.SIGINT)
    signal.raise_signal(signal.SIGTERM)
    assert told.wait() == 130


def test_a_server_stopped_before_it_listens_does_not_begin_to() -> None:
    web = uvicorn.Server(uvicorn.Config("no:application"))
    let_a_stop_be_an_ordinary_end(web)
    assert not web.should_exit
    signal.raise_signal(signal.SIGTERM)
    assert web.should_exit


@pytest.mark.parametrize(
    ("number", "stop"), [(signal.SIGINT, KeyboardInterrupt), (signal.SIGTERM, SystemExit)]
)
def test_a_stop_that_is_swallowed_by_a_finalizer_comes_again(
    number: signal.Signals, stop: type[BaseException], monkeypatch: pytest.MonkeyPatch
) -> None:
    def raising(_number: int, _frame: object) -> None:
        raise stop

    monkeypatch.setattr(sys, "unraisablehook", stop_again)
    signal.signal(signal.SIGTERM, raising)
    signal.signal(signal.SIGINT, raising)
    with pytest.raises(stop):
        EndedBySignal(number)
        time.sleep(10)
