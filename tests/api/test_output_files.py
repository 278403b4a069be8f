"""A result is written whole or not at all."""

import errno
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from dyecast_api.output_files import made_folder, replaced_when_complete, write_file, write_together
from dyecast_shared.errors import OutputFailed


def full_disk(path: Path, content: bytes) -> int:
    """Write half and then fail as a full disk does."""
    with path.open("wb") as stream:
        stream.write(content[: len(content) // 2])
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def ctrl_c(path: Path, content: bytes) -> int:
    """Write half and then be interrupted."""
    with path.open("wb") as stream:
        stream.write(content[: len(content) // 2])
    raise KeyboardInterrupt


def test_a_new_file_holds_what_was_written_and_leaves_nothing_beside_it(tmp_path: Path) -> None:
    write_file(tmp_path / "report.html", b"page")
    assert (tmp_path / "report.html").read_bytes() == b"page"
    assert [path.name for path in tmp_path.iterdir()] == ["report.html"]


def test_a_new_file_gets_the_permissions_any_new_file_gets(tmp_path: Path) -> None:
    (tmp_path / "usual").write_bytes(b"")
    write_file(tmp_path / "ours", b"")
    assert (tmp_path / "ours").stat().st_mode == (tmp_path / "usual").stat().st_mode


def test_the_lent_name_keeps_the_suffix_so_that_writers_pick_the_right_kind(tmp_path: Path) -> None:
    with replaced_when_complete(tmp_path / "piece.png") as unfinished:
        assert unfinished.suffix == ".png"
        assert unfinished.parent == tmp_path
        unfinished.write_bytes(b"png")
    assert (tmp_path / "piece.png").read_bytes() == b"png"


@pytest.mark.parametrize(
    ("way_to_fail", "seen"),
    [(full_disk, OutputFailed), (ctrl_c, KeyboardInterrupt)],
    ids=["full disk", "Ctrl-C"],
)
def test_a_write_that_breaks_off_leaves_the_old_file_and_no_half_of_the_new(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    way_to_fail: Callable[[Path, bytes], int],
    seen: type[BaseException],
) -> None:
    path = tmp_path / "report.html"
    path.write_bytes(b"old")
    with monkeypatch.context() as patched:
        patched.setattr(Path, "write_bytes", way_to_fail)
        with pytest.raises(seen):
            write_file(path, b"new page")
    assert path.read_bytes() == b"old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["report.html"]


def test_a_full_disk_is_told_with_the_reason_the_file_and_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Path, "write_bytes", full_disk)
    with pytest.raises(OutputFailed) as told:
        write_file(tmp_path / "report.html", b"page")
    assert "No space left on device" in str(told.value)
    assert "report.html" in str(told.value)
    assert "disk is not full" in str(told.value)


def test_a_disk_that_fills_only_when_flushed_is_noticed_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def cannot_flush(_descriptor: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", cannot_flush)
    with pytest.raises(OutputFailed):
        write_file(tmp_path / "report.html", b"page")
    assert list(tmp_path.iterdir()) == []


def test_of_two_files_written_together_none_appears_when_the_second_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = Path.write_bytes

    def second_fails(path: Path, content: bytes) -> int:
        return full_disk(path, content) if content == b"second" else whole(path, content)

    monkeypatch.setattr(Path, "write_bytes", second_fails)
    with pytest.raises(OutputFailed):
        write_together({tmp_path / "a": b"first", tmp_path / "b": b"second"})
    assert list(tmp_path.iterdir()) == []


def test_a_missing_folder_is_an_answer_not_a_traceback(tmp_path: Path) -> None:
    with pytest.raises(OutputFailed, match="No such file or directory"):
        write_file(tmp_path / "missing" / "report.html", b"page")


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_read_only_folder_is_an_answer_not_a_traceback(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(OutputFailed, match="Permission denied"):
        write_file(tmp_path / "report.html", b"page")


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="needs a folder nobody can write to")
def test_a_folder_that_takes_no_files_is_an_answer_even_for_the_superuser() -> None:
    with pytest.raises(OutputFailed):
        write_file(Path("/proc/self/report.html"), b"page")


def test_a_device_or_folder_is_not_replaced_by_a_file(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    with pytest.raises(OutputFailed, match="not an ordinary file"):
        write_file(tmp_path / "folder", b"page")
    with pytest.raises(OutputFailed, match="not an ordinary file"):
        write_file(Path(os.devnull), b"page")


def test_folders_made_for_nothing_are_taken_away_again(tmp_path: Path) -> None:
    (tmp_path / "kept").mkdir()
    with pytest.raises(KeyboardInterrupt), made_folder(tmp_path / "kept" / "new" / "deeper"):
        raise KeyboardInterrupt
    assert [path.name for path in tmp_path.rglob("*")] == ["kept"]


def test_a_folder_that_got_a_file_in_the_meantime_stays(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError), made_folder(tmp_path / "new") as folder:
        (folder / "someone's file").write_bytes(b"")
        raise RuntimeError
    assert (tmp_path / "new" / "someone's file").exists()


def test_a_file_in_the_way_of_a_folder_is_an_answer(tmp_path: Path) -> None:
    (tmp_path / "out").write_bytes(b"")
    with (
        pytest.raises(OutputFailed, match="folder could not be made"),
        made_folder(tmp_path / "out" / "tile"),
    ):
        pass
