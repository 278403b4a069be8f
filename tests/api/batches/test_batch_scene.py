"""A batch with real photos of made pieces: inspected, held against the first one, and certified."""

import json
from pathlib import Path

import pytest

from api.batches.batch_shop import done
from dyecast_api.store.data_folder import FOLDER_VARIABLE
from watch_batch import piece_photo


def test_two_pieces_photographed_from_two_sides_are_nearly_the_same_colour(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "data"))
    monkeypatch.delenv("DYECAST_DATABASE_URL", raising=False)
    done("press", "add-press", "front")
    done("press", "add-blank", "coaster", "--material", "glass", "--thickness", "4mm")
    settings = ("--temperature", "380F", "--time", "150s")
    done("press", "add-recipe", "coasters", "--press", "front", "--blank", "coaster", *settings)
    for number in (1, 2):
        piece_photo(number, tmp_path / f"piece-{number}.jpg")
    done("batch", "start", "May", "--recipe", "coasters", "--artwork", "artwork.png")
    done("batch", "add", "May", "piece-1.jpg")
    done("batch", "approve", "May", "--by", "Kim")
    done("batch", "add", "May", "piece-2.jpg")
    done("batch", "close", "May", "--by", "Kim", "--out", "papers")
    document = json.loads(Path("papers/certificate.json").read_text())
    first, second = document["pieces"]
    assert first["measured"]["delta-e-to-first-piece"]["value"] is None
    assert second["measured"]["delta-e-to-first-piece"]["value"] < 2.0
    assert abs(first["measured"]["transferred-fraction"]["value"] - 0.95) < 0.06
    assert document["card"]["cards"] == [{"layout": "a6", "edition": 1, "trust": "as designed"}]
    assert any(sentence.startswith("The print's size:") for sentence in document["not_measured"])
    assert Path("papers/certificate.pdf").read_bytes().count(b"/Subtype /Image") == 2
