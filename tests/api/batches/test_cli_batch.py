"""`dyecast batch`: the first piece approved or held, pieces added, and everything that is refused."""

from pathlib import Path

import pytest
from sqlalchemy import Engine, select

from api.batches.batch_shop import approved_batch, done, photo, refused, start
from dyecast_api.batches.batch_pieces import pieces_of
from dyecast_api.batches.batch_rows import batch_named, changed_batch
from dyecast_api.batches.batch_steps import Decision, approve_first_piece, close_batch
from dyecast_api.batches.batch_values import Batch, BatchState
from dyecast_api.store.database import first_shop_id, open_database, reading, writing
from dyecast_api.store.inspection_tables import inspections
from dyecast_api.work.file_store import LocalFileStore
from dyecast_shared.errors import BatchChanged

pytestmark = pytest.mark.usefixtures("shop")


@pytest.fixture
def engine(shop: Path) -> Engine:
    return open_database(f"sqlite:///{shop}/shop.sqlite3")


def seen(engine: Engine, name: str = "May") -> tuple[int, Batch]:
    with reading(engine) as connection:
        shop_id = first_shop_id(connection)
        return shop_id, batch_named(connection, shop_id, name)


def test_a_batch_begins_with_a_first_piece_that_a_person_approves() -> None:
    assert "Started: May, coasters, sunset.png." in start()
    told = done("batch", "add", "May", photo("good-0.950-0.0-0.020.jpg", 1))
    assert "Piece 1" in told
    assert "95 ± 3 % of the ink" in told
    assert "look at it, then approve it or hold it" in told
    assert "'dyecast batch approve' approves it" in told
    assert "Approved: the first piece of May, by Kim." in done("batch", "approve", "May", "--by", "Kim")
    assert "first piece approved by Kim" in done("batch", "list")


def test_later_pieces_are_held_against_the_first_one_and_told_how_many_are_needed() -> None:
    approved_batch()
    told = done("batch", "add", "May", photo("good-0.960-1.3-0.021.jpg", 2))
    assert "ΔE00 1.3 from the first piece" in told
    assert "Only 2 of the 8 pieces that limits need" in told


def test_a_piece_that_is_not_good_is_kept_and_the_exit_status_says_so() -> None:
    approved_batch()
    told = done("batch", "add", "May", photo("under-0.700-6.0-0.020.jpg", 2), status=1)
    assert "under-pressed by dyecast" in told


def test_a_first_piece_that_is_not_good_is_approved_only_with_a_reason(engine: Engine) -> None:
    start()
    done("batch", "add", "May", photo("under-0.840-0.0-0.020.jpg", 1), status=1)
    assert "The first piece is under-pressed, not good." in refused("batch", "approve", "May", "--by", "Kim")
    done("batch", "approve", "May", "--by", "Kim", "--reason", "the customer wants it pale")
    _, batch = seen(engine)
    assert (batch.decided_by, batch.decision_reason) == ("Kim", "the customer wants it pale")
    assert "Piece 1 (under-pressed) approved by Kim: the customer wants it pale" in batch.notes


def test_after_a_held_first_piece_the_next_one_is_the_first(engine: Engine) -> None:
    start("May", "--every", 5)
    done("batch", "add", "May", photo("under-0.840-0.0-0.020.jpg", 1), status=1)
    done("batch", "hold", "May", "--by", "Kim", "--reason", "pale at the left")
    assert "first piece held by Kim" in done("batch", "list")
    assert "Piece 2" in done("batch", "add", "May", photo("good-0.950-0.0-0.020.jpg", 2))
    done("batch", "approve", "May", "--by", "Lee")
    told = done("batch", "add", "May", photo("good-0.960-1.0-0.020.jpg", 3))
    assert "Piece 7" in told  # every fifth from the approved one on
    shop_id, batch = seen(engine)
    assert batch.state is BatchState.APPROVED
    assert "held by Kim: pale at the left" in batch.notes
    with reading(engine) as connection:
        assert [piece.number for piece in pieces_of(connection, shop_id, batch)] == [1, 2, 7]


def test_an_inspection_on_the_command_line_is_kept_with_its_photo(engine: Engine, shop: Path) -> None:
    approved_batch()
    with reading(engine) as connection:
        (row,) = connection.execute(select(inspections)).all()
    assert (row.verdict, row.photo_name, row.attempt) == ("good", "good-0.950-0.0-0.020.jpg", 1)
    assert row.finished_at is not None
    store = LocalFileStore(shop / "files")
    assert store.has(row.photo_sha256)
    assert all(map(store.has, row.pictures.values()))
    assert {"piece", "artwork"} <= set(row.pictures)


def test_a_photo_to_take_again_adds_no_piece_but_its_inspection_is_kept(engine: Engine) -> None:
    start()
    assert "has to be taken again" in refused("batch", "add", "May", photo("retake.jpg", 1))
    shop_id, batch = seen(engine)
    with reading(engine) as connection:
        assert pieces_of(connection, shop_id, batch) == ()
        assert connection.execute(select(inspections.c.verdict)).scalar() == "retake"


def test_a_clock_set_back_is_said_and_the_pieces_keep_their_order() -> None:
    approved_batch()
    told = done("batch", "add", "May", photo("good-0.960-1.0-0.020.jpg", 2), "--at", "2020-01-01T12:00")
    assert "Piece 2 is dated before piece 1: was the clock set back?" in told
    assert "Piece 3" in done("batch", "add", "May", photo("good-0.955-1.0-0.020.jpg", 3))


def test_a_piece_taken_back_no_longer_counts_and_its_number_is_not_given_again() -> None:
    approved_batch()
    done("batch", "add", "May", photo("good-0.960-1.0-0.020.jpg", 2))
    done("press", "take-back", 2)
    assert "1 inspected" in done("batch", "list")
    again = refused("batch", "add", "May", photo("good-0.961-1.0-0.020.jpg", 3), "--piece", 2)
    assert "Piece 2 is there already and was taken back" in again
    assert "Piece 3" in done("batch", "add", "May", photo("good-0.961-1.0-0.020.jpg", 3))


def test_when_the_first_piece_is_taken_back_the_next_one_added_is_the_first() -> None:
    approved_batch()
    done("press", "take-back", 1)
    told = done("batch", "add", "May", photo("good-0.960-1.0-0.020.jpg", 2))
    assert "This is the first piece" in told
    assert "from the first piece" not in told  # there was none to compare with
    done("batch", "approve", "May", "--by", "Lee")
    assert "1 inspected" in done("batch", "close", "May", "--by", "Lee") + done("batch", "list")


BAD_INPUT = (
    (("batch", "add", "May", "good-0.950-0.0-0.020.jpg"), "is piece 1 already"),
    (("batch", "add", "May", "good.jpg", "--piece", 1), "Piece 1 is there already"),
    (("batch", "add", "May", "good.jpg", "--piece", 0), "greater than or equal to 1"),
    (("batch", "add", "May", "good.jpg", "--at", "noon"), "no moment"),
    (("batch", "add", "June", "good.jpg"), "There are: 'May'"),
    (("batch", "add", "May", "missing.jpg"), "could not be read"),
    (("batch", "add", "May", "words.txt"), "words.txt"),
    (("batch", "approve", "May", "--by", "Lee"), "was approved by Kim already"),
    (("batch", "hold", "May", "--by", "Lee", "--reason", "x"), "was approved by Kim already"),
    (("batch", "approve", "May", "--by", " "), "which person"),
    (
        ("batch", "start", "May", "--recipe", "coasters", "--artwork", "sunset.png"),
        "a batch 'May' already",
    ),
    (("batch", "start", " ", "--recipe", "coasters", "--artwork", "sunset.png"), "one to a hundred"),
    (("batch", "start", "b", "--recipe", "mugs", "--artwork", "sunset.png"), "There are: 'coasters'"),
    (("batch", "start", "b", "--recipe", "coasters", "--artwork", "missing.png"), "missing.png"),
    (
        ("batch", "start", "b", "--recipe", "coasters", "--artwork", "sunset.png", "--accept-at", "2.5"),
        "its number of pieces must be known",
    ),
    (
        ("batch", "start", "b", "--recipe", "coasters", "--artwork", "sunset.png", "--tightened"),
        "Give it with --accept-at.",
    ),
    (("batch", "show", "June"), "'dyecast batch start' starts one."),
)


def test_bad_input_is_answered_in_words_and_changes_nothing() -> None:
    approved_batch()
    photo("good.jpg", 9)
    Path("words.txt").write_text("no picture")
    before = done("batch", "list")
    for words, said in BAD_INPUT:
        assert said in refused(*words), words
    assert done("batch", "list") == before


def test_no_second_piece_is_added_before_the_first_is_decided_on() -> None:
    start()
    assert "no first piece yet" in refused("batch", "approve", "May", "--by", "Kim")
    done("batch", "add", "May", photo("good-0.950-0.0-0.020.jpg", 1))
    told = refused("batch", "add", "May", photo("good-0.951-0.0-0.020.jpg", 2))
    assert "neither approved nor held" in told


def test_of_two_people_who_decide_at_once_the_second_is_told_and_nothing_is_lost(engine: Engine) -> None:
    start()
    done("batch", "add", "May", photo("good-0.950-0.0-0.020.jpg", 1))
    shop_id, both_saw = seen(engine)
    moment = both_saw.started_at
    with writing(engine) as connection:
        approve_first_piece(connection, shop_id, both_saw, Decision("Kim", moment))
    with (
        pytest.raises(BatchChanged, match="Somebody else changed batch 'May'"),
        writing(engine) as connection,
    ):
        approve_first_piece(connection, shop_id, both_saw, Decision("Lee", moment))
    assert seen(engine)[1].decided_by == "Kim"


def test_a_piece_added_while_somebody_closes_is_not_lost(engine: Engine) -> None:
    approved_batch()
    shop_id, both_saw = seen(engine)
    done("batch", "add", "May", photo("good-0.960-1.0-0.020.jpg", 2))
    with pytest.raises(BatchChanged), writing(engine) as connection:
        close_batch(connection, shop_id, both_saw, Decision("Kim", both_saw.started_at), None)
    _, batch = seen(engine)
    assert batch.state is BatchState.APPROVED
    with reading(engine) as connection:
        assert len(pieces_of(connection, shop_id, batch)) == 2


def test_another_shops_batch_cannot_be_changed(engine: Engine) -> None:
    approved_batch()
    shop_id, batch = seen(engine)
    with pytest.raises(BatchChanged), writing(engine) as connection:
        changed_batch(connection, shop_id + 1, batch, notes="not mine")
    assert "not mine" not in seen(engine)[1].notes
