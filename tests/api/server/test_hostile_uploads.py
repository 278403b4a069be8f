"""What must not hurt the server: each gets a problem document, and the server stays up."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from picture_files import png_with_header

from .shop_server import API, HOST, ShopServer, add_artwork, assert_problem, photo, shop_server

FORM = "multipart/form-data; boundary=x"


def part(name: str, content: bytes, file_name: str | None = None) -> bytes:
    label = f'; filename="{file_name}"' if file_name else ""
    head = f'--x\r\nContent-Disposition: form-data; name="{name}"{label}\r\n\r\n'
    return head.encode("utf-8") + content + b"\r\n"


HOSTILE: dict[str, tuple[bytes, str, int, str]] = {
    "nothing at all": (b"", "image/jpeg", 422, "file-unreadable"),
    "a text": (b"notes" * 100, "image/jpeg", 415, "not-a-picture"),
    "a program": (b"\x7fELF" + b"\0" * 2000, "image/jpeg", 415, "not-a-picture"),
    "a page with a script": (b"<html><script>1</script>", "text/html", 415, "not-a-picture"),
    "a bomb": (png_with_header(60_000, 60_000), "image/png", 413, "picture-too-large"),
    "one pixel": (png_with_header(1, 1), "image/png", 422, "picture-too-small"),
    "a form without a boundary": (b"x", "multipart/form-data", 422, "request-invalid"),
    "a form that breaks off": (part("photo", b"x", "a.jpg"), FORM, 422, "file-unreadable"),
    "a form with its photo as text": (part("photo", b"text") + b"--x--\r\n", FORM, 422, "request-invalid"),
    "a thousand parts": (
        b"".join(part(f"f{number}", b"1") for number in range(1000)) + b"--x--\r\n",
        FORM,
        422,
        "request-invalid",
    ),
    "a thousand files": (
        b"".join(part(f"f{number}", b"1", "a.jpg") for number in range(1000)) + b"--x--\r\n",
        FORM,
        422,
        "request-invalid",
    ),
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("hostile")


@pytest.mark.filterwarnings("ignore:.*Unclosed file.*")  # starlette leaves a broken-off part to the collector
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_upload_gets_a_problem_and_nothing_is_taken_in(
    server: ShopServer, owner: TestClient, name: str
) -> None:
    content, kind, status, code = HOSTILE[name]
    artwork = add_artwork(owner)
    answer = owner.post(
        f"{API}/inspections?artwork={artwork}", content=content, headers={"Content-Type": kind}
    )
    if name == "a form that breaks off":
        assert 400 <= answer.status_code < 500
    else:
        assert_problem(answer, status, code)
    assert owner.get(f"{API}/inspections").json()["items"] == []
    assert server.client().get("/readyz").status_code == 200


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ("../../etc/passwd.jpg", "passwd.jpg"),
        ("C:\\temp\\piece.jpg", "piece.jpg"),
        ("..", "photo"),
        ("a\u202egpj.exe", "a?gpj.exe"),
        ("x" * 400 + ".jpg", "x" * 196 + ".jpg"),
    ],
    ids=["a path", "a path of another system", "the folder above", "a turned name", "a long name"],
)
def test_names_of_files_are_labels_and_no_paths(
    server: ShopServer, owner: TestClient, sent: str, kept: str
) -> None:
    address = f"{API}/inspections"
    answer = owner.post(
        address,
        params={"artwork": str(add_artwork(owner)), "name": sent},
        content=photo(),
        headers={"Content-Type": "image/jpeg"},
    )
    assert answer.status_code == 202
    told = answer.json()["photo"]
    assert "/" not in told
    assert "\\" not in told
    assert told == kept or "\u202e" not in told
    stored = [path for path in server.app.state.server.files.folder.rglob("*") if path.is_file()]
    assert all(len(path.name) == 64 for path in stored)


def test_a_declared_size_is_not_believed(tmp_path: Path) -> None:
    """A body may be longer than it says, or say nothing: bytes are counted as they come."""
    server = shop_server(tmp_path, photo_mebibytes=1)
    owner = server.owner()
    artwork = add_artwork(owner)

    def chunks() -> Iterator[bytes]:
        for _ in range(30):
            yield b"\xff" * 100_000

    answer = owner.post(
        f"{API}/inspections?artwork={artwork}",
        content=chunks(),
        headers={"Content-Type": "image/jpeg"},
    )
    assert_problem(answer, 413, "upload-too-large")
    server.engine.dispose()


@pytest.mark.parametrize(
    "ask",
    [
        lambda client: client.get("/%2e%2e/%2e%2e/etc/passwd"),
        lambda client: client.get(f"{API}/inspections/{'x' * 3000}"),
        lambda client: client.get(f"{API}/artworks/99999999999999999999"),
        lambda client: client.get(f"{API}/inspections?cursor=YmVsb3c6LTE"),
        lambda client: client.post(f"{API}/sign-in", content=b"\xff\xfe", headers={"Origin": HOST}),
        lambda client: client.put(f"{API}/settings", json={"photo_days": 3, "more": 1}),
        lambda client: client.delete(f"{API}/devices/0"),
    ],
    ids=["a path", "a long identifier", "a huge number", "a bad cursor", "no JSON", "more members", "zero"],
)
def test_odd_requests_get_a_problem(owner: TestClient, ask: Callable[[TestClient], object]) -> None:
    answer = ask(owner)
    assert 400 <= answer.status_code < 500  # type: ignore[attr-defined]
    assert answer.headers["Content-Type"] == "application/problem+json"  # type: ignore[attr-defined]
