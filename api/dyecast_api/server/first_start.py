"""The first start of a shop's server: an owner's passphrase is made, and shown this once."""

from sqlalchemy import Engine

from dyecast_api.records.shop_records import Shop, all_shops, set_passphrase
from dyecast_api.server.passphrase import hash_passphrase
from dyecast_api.server.tokens import new_passphrase
from dyecast_api.store.database import reading, writing


def first_passphrase(engine: Engine) -> str | None:
    """Make a passphrase for the first shop when it has none, and return it; None when it has one."""
    with reading(engine) as connection:
        shop = all_shops(connection)[0]
    return None if shop.passphrase_hash is not None else replaced_passphrase(engine, shop)


def replaced_passphrase(engine: Engine, shop: Shop) -> str:
    """Make a new passphrase for a shop and return it; the old one is good for nothing from now on."""
    passphrase = new_passphrase()
    hashed = hash_passphrase(passphrase)
    with writing(engine) as connection:
        set_passphrase(connection, shop.id, hashed)
    return passphrase
