"""Where the shop profile is kept: one file in the user's own data folder."""

from pathlib import Path
from typing import Final

from dyecast_api.store.data_folder import data_folder

PROFILE_NAME: Final = "shop-profile.json"


def profile_place() -> Path:
    """Return where `dyecast calibrate` keeps the profile, whether or not it is there."""
    return data_folder() / PROFILE_NAME


def kept_profile() -> Path | None:
    """Return the kept profile's file, None when nothing was taught yet."""
    place = profile_place()
    return place if place.is_file() else None
