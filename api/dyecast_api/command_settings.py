"""The server's settings for commands: all of them read the same, in the same way."""

from typing import TYPE_CHECKING

from dyecast_shared.errors import BadInput

if TYPE_CHECKING:
    from dyecast_api.server.settings import ServerSettings


def command_settings(**given: object) -> "ServerSettings":
    """Read the settings: what is given first, then the environment, then `server.env` in the data folder.

    Raises BadInput naming the one that cannot be.
    """
    from pydantic import ValidationError

    from dyecast_api.server.settings import read_settings

    try:
        return read_settings(**given)
    except ValidationError as error:
        said = "; ".join(f"DYECAST_{str(each['loc'][0]).upper()}: {each['msg']}" for each in error.errors())
        raise BadInput(f"A setting cannot be used. {said}.", advice="Correct it and start again.") from error
