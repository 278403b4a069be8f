"""What can be set about the server: by environment variables, or in a file of the same names."""

import os
from pathlib import Path
from typing import Final

from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict

from dyecast_api.store.data_folder import DATABASE_NAME, FILES_FOLDER, data_folder

DEFAULT_PORT: Final = 8642
"""Our own choice among the ports that nobody has registered for a common service (from memory)."""

SETTINGS_NAME: Final = "server.env"
"""Settings file in the data folder, read when it is there."""


def default_workers() -> int:
    """Return one worker a processor."""
    return os.cpu_count() or 1


class ServerSettings(BaseSettings):
    """Settings of the server; each is an environment variable `DYECAST_…`, or a line of `server.env`."""

    model_config = SettingsConfigDict(
        env_prefix="DYECAST_", env_ignore_empty=True, extra="ignore", frozen=True
    )

    data: Path = Field(default_factory=data_folder, description="Folder of the database and the pictures.")
    database_url: str | None = Field(
        None, description="Another database, e.g. postgresql+psycopg://…; else SQLite in the data folder."
    )
    files: str | None = Field(
        None, description="Another folder for pictures, or an object store (s3://bucket/prefix)."
    )
    broker_url: str | None = Field(
        None, description="RabbitMQ (amqp://…) that tells workers of work, when they run elsewhere too."
    )
    workers: int = Field(
        default_factory=default_workers, ge=0, description="Worker processes of this server; 0 for none."
    )
    host: str = Field("0.0.0.0", description="Address to listen on; 127.0.0.1 for this computer alone.")
    port: int = Field(DEFAULT_PORT, ge=1, le=65535, description="Port to listen on.")
    public_url: str | None = Field(
        None, description="Address that phones use, e.g. https://press.example; else this computer's own."
    )
    photo_mebibytes: int = Field(40, ge=1, le=200, description="Largest upload.")
    upload_seconds: float = Field(120.0, gt=0, description="How long an upload may take.")
    behind_proxy: bool = Field(
        False, description="Believe X-Forwarded-For and -Proto: only behind a proxy of your own."
    )

    @property
    def database(self) -> str:
        """Address of the database."""
        return self.database_url or f"sqlite:///{self.data / DATABASE_NAME}"

    @property
    def files_place(self) -> str:
        """Folder or address of the pictures."""
        return self.files or str(self.data / FILES_FOLDER)

    @property
    def upload_bytes(self) -> int:
        """Largest upload, in bytes."""
        return self.photo_mebibytes * 2**20


def read_settings(**given: object) -> ServerSettings:
    """Return the settings: what is given first, then the environment, then the file in the data folder.

    Raises pydantic's ValidationError for a value that cannot be.
    """
    named = {name: value for name, value in given.items() if value is not None}
    folder = Path(str(named.get("data") or data_folder()))
    return ServerSettings(_env_file=folder / SETTINGS_NAME, **named)  # type: ignore[call-arg, arg-type]
