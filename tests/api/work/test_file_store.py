"""Files kept by their content: whole, once, and found damaged rather than believed."""

import errno
import hashlib
from collections.abc import Iterator
from pathlib import Path

import pytest

from dyecast_api import output_files
from dyecast_api.work.file_store import FileStore, LocalFileStore, open_file_store
from dyecast_api.work.object_store import ObjectFileStore
from dyecast_shared.errors import FileMissing, StoreUnavailable
from servers.small_s3 import small_s3

CONTENT = b"a photo's bytes"
NAME = hashlib.sha256(CONTENT).hexdigest()


@pytest.fixture(params=["folder", "object store in memory", "S3"])
def store(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[FileStore]:
    if request.param == "folder":
        yield open_file_store(tmp_path / "files")
    elif request.param == "S3":
        pytest.importorskip("obstore")
        with small_s3() as address:
            s3_at(address, monkeypatch)
            yield open_file_store("s3://pictures/shop")
    else:
        pytest.importorskip("obstore")
        yield open_file_store("memory:///")


def s3_at(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Say where S3 is, as its users do."""
    for name, value in (
        ("AWS_ENDPOINT_URL", address),
        ("AWS_ALLOW_HTTP", "true"),
        ("AWS_ACCESS_KEY_ID", "key"),
        ("AWS_SECRET_ACCESS_KEY", "word"),
        ("AWS_REGION", "eu-central-1"),
    ):
        monkeypatch.setenv(name, value)


def test_a_content_is_named_by_its_sha256_and_comes_back(store: FileStore) -> None:
    assert not store.has(NAME)
    assert store.keep(CONTENT) == NAME
    assert store.has(NAME)
    assert store.read(NAME) == CONTENT


def test_keeping_twice_keeps_once_and_dropping_twice_is_no_error(store: FileStore) -> None:
    assert store.keep(CONTENT) == store.keep(CONTENT)
    store.drop(NAME)
    assert not store.has(NAME)
    store.drop(NAME)


def test_what_is_missing_is_said_to_be_missing(store: FileStore) -> None:
    with pytest.raises(FileMissing) as caught:
        store.read(NAME)
    assert caught.value.code == "file-missing"
    assert caught.value.file == NAME


@pytest.mark.parametrize("name", ["../../etc/passwd", "", "A" * 64, "0" * 63])
def test_nothing_but_a_sha256_reaches_the_disk(store: FileStore, name: str) -> None:
    with pytest.raises(FileMissing):
        store.read(name)


def test_a_damaged_file_is_not_believed_and_is_mended_by_keeping_it_again(tmp_path: Path) -> None:
    store = LocalFileStore(tmp_path)
    store.keep(CONTENT)
    store.path_of(NAME).write_bytes(b"a photo's bytez")
    with pytest.raises(FileMissing, match="damaged"):
        store.read(NAME)
    store.keep(CONTENT)
    assert store.read(NAME) == CONTENT


def test_a_full_disk_keeps_nothing_and_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_file: Path) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    store = LocalFileStore(tmp_path)
    monkeypatch.setattr(output_files, "_force_to_disk", full)
    with pytest.raises(StoreUnavailable, match="No space left"):
        store.keep(CONTENT)
    monkeypatch.undo()
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []
    assert store.keep(CONTENT) == NAME


def test_an_address_that_nothing_answers_to_is_unavailable() -> None:
    pytest.importorskip("obstore")
    with pytest.raises(StoreUnavailable, match="cannot be used"):
        ObjectFileStore.at("gopher://pictures")
