"""The certificate: made when a batch closes, valid by its schema, read back from the PDF, made once."""

import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import jsonschema
import pypdfium2
import pytest

from api.batches.batch_shop import approved_batch, done, photo, refused, start
from api.batches.mornings import EIGHT, morning
from dyecast_api.batches import closing
from dyecast_api.batches.batch_charts import batch_charts
from dyecast_api.batches.batch_series import counted_pieces
from dyecast_api.batches.batch_steps import Decision
from dyecast_api.batches.batch_values import Sampling
from dyecast_api.batches.certificate import certificate_document, certificate_schema
from dyecast_api.batches.certificate_pdf import certificate_pdf, shown
from dyecast_api.batches.chart_drawing import chart_drawing
from dyecast_api.batches.whole_batch import WholeBatch
from dyecast_api.press_log.log_values import Blank, Press, Recipe
from dyecast_shared.errors import BatchInvalid

CLOSING = Decision("Kim", EIGHT + timedelta(hours=5))


def whole(count: int = 30, **told: Any) -> WholeBatch:
    batch, pieces = morning(count, **told)
    batch = replace(batch, decided_by="Lee", decided_at=EIGHT, artwork_name="sunset.png")
    recipe = Recipe("coasters", 1, 1, temperature_k=466.5, time_s=180.0, created_at=EIGHT, ink="house ink")
    blank = Blank("coaster", "glass", 4.0, "back", EIGHT)
    counted = counted_pieces(batch, pieces)
    return WholeBatch(
        batch, recipe, Press("front", EIGHT), blank, tuple(pieces), counted, batch_charts(batch, pieces)
    )


def checked(document: dict[str, Any]) -> dict[str, Any]:
    schema = json.loads(certificate_schema())
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(document, schema, format_checker=jsonschema.FormatChecker())
    return document


def text_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    try:
        text = " ".join(page.get_textpage().get_text_range() for page in document)
    finally:
        document.close()
    return " ".join(text.split())


def pdf_of(batch: WholeBatch, pictures: dict[str, bytes] | None = None) -> bytes:
    drawings = [chart_drawing(charts) for charts in batch.charts.quantities]
    return certificate_pdf(certificate_document(batch, CLOSING), drawings, pictures or {})


def test_from_the_first_piece_to_the_certificate(shop: Path) -> None:
    approved_batch("May", "--pieces", 20)
    for number in range(2, 11):
        done("batch", "add", "May", photo(f"good-{0.94 + 0.002 * (number % 5)}-1.2-0.02.jpg", number))
    done("batch", "add", "May", photo("under-0.8-5.0-0.02.jpg", 11), status=1)
    told = done("batch", "close", "May", "--by", "Kim", "--out", "papers")
    assert "Closed: May, by Kim." in told
    document = checked(json.loads(Path("papers/certificate.json").read_text()))
    assert document["counts"]["inspected"] == 11
    assert document["counts"]["under_pressed"] == 1
    assert document["counts"]["not_inspected"] == 9
    assert document["first_piece"]["approved_by"] == "Kim"
    assert document["card"]["cards"] == [{"layout": "a6", "edition": 1, "trust": "as designed"}]
    assert document["software"].startswith("dyecast ")
    pdf = Path("papers/certificate.pdf").read_bytes()
    text = text_of(pdf)
    for words in (
        "Certificate of batch May",
        "10 good, 1 under-pressed",
        "approved by Kim",
        "colours as designed",
    ):
        assert words in text
    assert "not with a spectrophotometer" in text
    assert "9 of 20 planned pieces were not inspected." in text
    assert pdf.count(b"/Subtype /Image") == 2  # the first piece and the artwork
    assert (shop / "files").is_dir()
    again = done("batch", "certificate", "May", "--out", "again")
    assert "certificate.pdf" in again
    assert Path("again/certificate.pdf").read_bytes() == pdf


def test_a_closed_batch_takes_no_piece_and_is_not_closed_again(shop: Path) -> None:
    approved_batch()
    done("batch", "close", "May", "--by", "Kim")
    for words in (
        ("batch", "close", "May", "--by", "Lee"),
        ("batch", "add", "May", photo("good-0.96-1.0-0.02.jpg", 2)),
        ("batch", "close", "May", "--by", "Lee", "--give-up", "--reason", "x"),
    ):
        assert "Batch 'May' was closed by Kim on " in refused(*words)
    assert "closed by Kim" in done("batch", "list")
    assert shop.is_dir()


@pytest.mark.usefixtures("shop")
def test_a_piece_added_while_the_certificate_is_made_is_not_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    approved_batch()
    photo("good-0.96-1.0-0.02.jpg", 2)

    def slowly(*given: Any) -> bytes:
        done("batch", "add", "May", "good-0.96-1.0-0.02.jpg")
        return certificate_pdf(*given)

    with monkeypatch.context() as patch:
        patch.setattr(closing, "certificate_pdf", slowly)
        told = refused("batch", "close", "May", "--by", "Kim")
    assert "Somebody else changed batch 'May' meanwhile" in told
    assert "2 inspected" in done("batch", "list")
    done("batch", "close", "May", "--by", "Kim", "--out", "papers")
    assert json.loads(Path("papers/certificate.json").read_text())["counts"]["inspected"] == 2


@pytest.mark.usefixtures("shop")
def test_without_an_approved_first_piece_a_batch_is_only_given_up() -> None:
    start()
    assert "nothing to certify" in refused("batch", "close", "May", "--by", "Kim")
    assert "given up for a --reason" in refused("batch", "close", "May", "--by", "Kim", "--give-up")
    done("batch", "close", "May", "--by", "Kim", "--give-up", "--reason", "the order was withdrawn")
    assert "given up by Kim" in done("batch", "list")
    assert "has no certificate" in refused("batch", "certificate", "May", "--out", "papers")
    assert "the order was withdrawn" in done("batch", "show", "May")


@pytest.mark.parametrize("count", [1, 2, 9, 30])
def test_a_certificate_of_any_length_is_valid_and_its_figures_are_in_the_pdf(count: int) -> None:
    batch = whole(count)
    document = checked(certificate_document(batch, CLOSING))
    text = text_of(pdf_of(batch))
    for piece in document["pieces"]:
        ink = piece["measured"]["transferred-fraction"]
        assert f"{100 * ink['value']:.1f} ± {100 * ink['standard_uncertainty']:.1f}" in text
    if count < 8:
        assert "Whether the process was steady cannot be told" in " ".join(document["not_measured"])


def test_a_drift_stands_on_the_certificate_without_advice_to_the_presser() -> None:
    document = certificate_document(whole(32, slide=-0.004, since=20), CLOSING)
    assert document["process"]["state"] == "process-moved"
    told = " ".join(document["process"]["sentences"])
    assert "has fallen by" in told
    assert "look whether" not in told
    assert any(signal["rule"] == "ewma-beyond-limit" for signal in document["pieces"][-1]["signals"])


def test_lot_acceptance_is_certified_with_its_plan_and_count() -> None:
    batch = whole(13)
    batch = replace(batch, batch=replace(batch.batch, planned_pieces=60, sampling=Sampling(2.5)))
    acceptance = checked(certificate_document(batch, CLOSING))["acceptance"]
    assert (acceptance["sample_size"], acceptance["acceptance_number"]) == (
        20,
        1,
    )  # ISO 2859-1: code E, arrow to F
    assert acceptance["action"] == "inspect-more"
    assert "7 still to inspect" in text_of(pdf_of(batch))


def test_the_same_batch_gives_the_same_bytes() -> None:
    assert pdf_of(whole(9)) == pdf_of(whole(9))


def test_names_in_any_script_never_break_the_pdf_and_stay_whole_in_the_json() -> None:
    batch = whole(9)
    batch = replace(batch, batch=replace(batch.batch, name="<b>Mäi</b> & 五月 \x1b[31m", notes="x" * 3000))
    document = checked(certificate_document(batch, CLOSING))
    assert "五月" in document["batch"]["name"]
    assert "\x1b" not in json.dumps(document)
    text = text_of(pdf_of(batch))
    assert "<b>Mäi</b> & ??" in text
    assert "shown as question marks" in text
    assert shown("ΔE00 ± 1 °C") == "∆E00 ± 1 °C"
    assert "shown as question marks" not in text_of(pdf_of(whole(9)))


def test_nothing_is_certified_before_a_first_piece_is_approved() -> None:
    batch = whole(3)
    with pytest.raises(BatchInvalid, match="no approved first piece"):
        certificate_document(replace(batch, counted=()), CLOSING)


@pytest.mark.usefixtures("shop")
def test_the_schema_is_printed() -> None:
    assert json.loads(done("batch", "schema"))["$id"] == "urn:dyecast:batch-certificate:1"
