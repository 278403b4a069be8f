"""Taking an artwork's file and its printer's profile in, after a look at whether they can be used."""

import tempfile
from pathlib import Path
from typing import Final

from dyecast_api.records.artwork_records import NewVersion
from dyecast_api.server.state import ServerState
from dyecast_api.server.uploads import SentFile
from dyecast_api.store.database import writing
from dyecast_api.work.accept_photo import MEDIA_TYPES, checked_header, plain_name
from dyecast_api.work.file_rows import KeptFile, record_file
from dyecast_shared.errors import BadInput

PROFILE_TYPE: Final = "application/vnd.iccprofile"


def kept_version(
    server: ServerState,
    shop_id: int,
    file: SentFile,
    profile: SentFile | None,
    print_size_mm: tuple[float | None, float | None],
) -> NewVersion:
    """Check and keep the files of a new version; raise BadInput's kinds for what cannot be used."""
    name = plain_name(file.name)
    width, height = print_size_mm
    if (width is None) != (height is None):
        raise BadInput("Only one side of the print was given.", advice="Give both sides, or neither.")
    media_type = MEDIA_TYPES[checked_header(file.content, name).container]
    _check_readable(name, file.content, profile)
    kept = KeptFile(server.files.keep(file.content), len(file.content), media_type)
    kept_profile = None
    if profile is not None:
        kept_profile = KeptFile(server.files.keep(profile.content), len(profile.content), PROFILE_TYPE)
    with writing(server.engine) as connection:
        for each in (kept, kept_profile):
            if each is not None:
                record_file(connection, shop_id, each, server.clock())
    return NewVersion(name, kept.sha256, kept_profile.sha256 if kept_profile else None, width, height)


def _check_readable(name: str, content: bytes, profile: SentFile | None) -> None:
    """Read the artwork as an inspection will; whoever uploads learns at once when that fails."""
    from dyecast_inspect.read_artwork import read_artwork

    with tempfile.TemporaryDirectory(prefix="dyecast-") as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        profile_path = None
        if profile is not None:
            profile_path = Path(folder) / "printer-profile.icc"
            profile_path.write_bytes(profile.content)
        read_artwork(path, printer_profile=profile_path)
