"""The commands `dyecast serve` and `dyecast shop`: the shop's own server, and the shops on it."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dyecast_api.command_settings import command_settings
from dyecast_api.terminal import print_result
from dyecast_shared.request_errors import NameTaken

if TYPE_CHECKING:
    from dyecast_api.server.settings import ServerSettings

shop_app = typer.Typer(no_args_is_help=True, help="The shops on this computer's server.")

MORE_SETTINGS = (
    "More settings are environment variables, or lines of server.env in the data folder: "
    "DYECAST_DATABASE_URL (PostgreSQL), DYECAST_FILES (another folder, or s3://bucket), "
    "DYECAST_BROKER_URL (RabbitMQ), "
    "DYECAST_PHOTO_MEBIBYTES, DYECAST_UPLOAD_SECONDS, DYECAST_BEHIND_PROXY."
)


def serve(  # noqa: PLR0913, PLR0917 (one parameter per option is how typer reads a command line)
    data: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder of the database and the pictures. (DYECAST_DATA)"),
    ] = None,
    host: Annotated[
        str | None,
        typer.Option(help="Address to listen on; 127.0.0.1 for this computer alone. (DYECAST_HOST)"),
    ] = None,
    port: Annotated[
        int | None, typer.Option(min=1, max=65535, help="Port to listen on. (DYECAST_PORT) [default: 8642]")
    ] = None,
    workers: Annotated[
        int | None,
        typer.Option(min=0, help="Inspections at the same time; 0 for none here. (DYECAST_WORKERS)"),
    ] = None,
    public_url: Annotated[
        str | None, typer.Option(metavar="URL", help="Address that phones use. (DYECAST_PUBLIC_URL)")
    ] = None,
    new_passphrase: Annotated[
        bool, typer.Option("--new-passphrase", help="Make a new passphrase for the owner, and end.")
    ] = False,
) -> None:
    """Run the shop's server: phones send photos, verdicts come back."""
    settings = command_settings(data=data, host=host, port=port, workers=workers, public_url=public_url)
    if new_passphrase:
        _print_new_passphrase(settings)
        return
    from dyecast_api.server.run_server import run_server

    run_server(settings)


serve.__doc__ = f"{serve.__doc__}\n\n{MORE_SETTINGS}\n"


@shop_app.command("list")
def list_shops() -> None:
    """List the shops on this server."""
    from dyecast_api.records.shop_records import all_shops
    from dyecast_api.store.database import open_database, reading

    with reading(open_database(command_settings().database)) as connection:
        for shop in all_shops(connection):
            print_result(shop.name)


@shop_app.command("add")
def add(name: Annotated[str, typer.Argument(help="What the shop is called.")]) -> None:
    """Add a shop with its own owner; its passphrase is shown this once."""
    from sqlalchemy.exc import IntegrityError

    from dyecast_api.records.shop_records import add_shop
    from dyecast_api.server.passphrase import hash_passphrase
    from dyecast_api.server.state import now_utc
    from dyecast_api.server.tokens import new_passphrase
    from dyecast_api.store.database import open_database, writing

    passphrase = new_passphrase()
    try:
        with writing(open_database(command_settings().database)) as connection:
            add_shop(connection, name, hash_passphrase(passphrase), now_utc())
    except IntegrityError as problem:
        raise NameTaken("There is a shop of this name.", file=name) from problem
    print_result(f"{name}: the owner's passphrase, shown this once: {passphrase}")


def _print_new_passphrase(settings: "ServerSettings") -> None:
    from dyecast_api.records.shop_records import all_shops
    from dyecast_api.server.first_start import replaced_passphrase
    from dyecast_api.store.database import open_database, reading

    engine = open_database(settings.database)
    with reading(engine) as connection:
        shop = all_shops(connection)[0]
    print_result(f"The owner's new passphrase, shown this once: {replaced_passphrase(engine, shop)}")
