"""The artwork is read while the card is looked for; whoever needs it waits for it."""

import threading
from pathlib import Path

import pytest

from dyecast_api.blas_threads import keep_blas_to_one_thread
from dyecast_api.photo_batch import Setting, inspected_photos
from dyecast_inspect.read_artwork import Artwork
from dyecast_shared.errors import FileUnreadable
from dyecast_shared.meanwhile import meanwhile

from .fake_stages import FAKE


def test_other_work_goes_on_meanwhile() -> None:
    asked = threading.Event()

    def work() -> str:
        assert asked.wait(10)
        return "done"

    with meanwhile(work) as result:
        asked.set()
        assert result() == "done"
        assert result() == "done"


def test_what_went_wrong_is_told_to_whoever_asks() -> None:
    def work() -> str:
        raise FileUnreadable("There is no such file.", file="artwork.png")

    with meanwhile(work) as result, pytest.raises(FileUnreadable):
        result()


@pytest.mark.parametrize("photo", ["good.jpg", "broken.jpg", "bent.jpg"])
def test_no_photo_is_blamed_for_an_artwork_that_cannot_be_read(photo: str) -> None:
    def missing() -> Artwork:
        raise FileUnreadable("There is no such file.", file="artwork.png")

    with meanwhile(missing) as artwork:
        photos = inspected_photos([Path(photo)], Setting(artwork, [], {}), FAKE, lambda _: None)
        with pytest.raises(FileUnreadable) as refused:
            next(photos)
    assert refused.value.file == "artwork.png"


def test_the_matrix_library_gets_one_thread_unless_a_number_was_asked_for() -> None:
    nothing: dict[str, str] = {}
    keep_blas_to_one_thread(nothing)
    assert nothing == {"OPENBLAS_NUM_THREADS": "1"}
    asked = {"OMP_NUM_THREADS": "4"}
    keep_blas_to_one_thread(asked)
    assert asked == {"OMP_NUM_THREADS": "4"}
