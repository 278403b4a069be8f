"""Signing in, pairing phones, tokens for programs, and the devices that have a right."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Annotated, Final, Literal

from fastapi import APIRouter, Path, Request, Response
from pydantic import Field

from dyecast_api.records.device_records import (
    Device,
    add_device,
    add_pairing,
    list_devices,
    rename_device,
    revoke_device,
    use_pairing,
)
from dyecast_api.records.shop_records import find_shop
from dyecast_api.server.addresses import phone_address
from dyecast_api.server.api_models import PREFIX, Body, DeviceBody, Name, TokenBody
from dyecast_api.server.caller import (
    BENCH,
    OWNER,
    BenchCaller,
    Caller,
    OwnerCaller,
    check_origin,
    forget,
    remember,
)
from dyecast_api.server.device_names import free_name, name_by_browser
from dyecast_api.server.documented import SIGNED_IN, problems
from dyecast_api.server.passphrase import is_passphrase
from dyecast_api.server.rate_limits import SIGN_INS, address_of
from dyecast_api.server.state import Server, ServerState
from dyecast_api.server.tokens import hash_of, new_code, new_token, tidy_code
from dyecast_api.store.database import reading, writing
from dyecast_shared.request_errors import NameTaken, NotFound, PairingUnusable, PassphraseWrong

router = APIRouter(prefix=PREFIX, tags=["devices"], responses=problems())

PAIRING_TIME: Final = timedelta(minutes=5)
"""How long a pairing code is good for: to walk to the bench, not to be copied from a photo of the screen."""

Number = Annotated[int, Path(ge=1, le=2**31 - 1)]
Role = Literal["owner", "bench"]


class SignIn(Body):
    """The owner's passphrase; `shop` is needed where the server has several."""

    passphrase: Annotated[str, Field(min_length=1, max_length=200)]
    device_name: Name | None = None
    shop: Annotated[str, Field(max_length=200)] | None = None


class NewPairing(Body):
    """What the phone that scans the code may do."""

    role: Role = BENCH


class PairingBody(Body):
    """A one-time code; `address` is what the QR code holds."""

    code: str
    address: str
    role: Role
    expires_at: datetime


class Pair(Body):
    """A code from the owner's page, and what this phone is to be called."""

    code: Annotated[str, Field(min_length=1, max_length=100)]
    device_name: Name | None = None


class NewName(Body):
    """What a device is to be called."""

    name: Name


class NewProgram(Body):
    """What a program is called and may do."""

    name: Name
    role: Role = BENCH


@router.post("/sign-in", operation_id="signIn", status_code=201, responses=problems(401, 403))
def sign_in(request: Request, response: Response, sign: SignIn, server: Server) -> DeviceBody:
    """Sign in as the owner; the answer sets a cookie."""
    device, token = signed_in(request, server, sign.passphrase, sign.device_name, sign.shop)
    remember(response, request, token)
    return _body(device)


@router.post("/sign-out", operation_id="signOut", status_code=204, responses=problems(*SIGNED_IN))
def sign_out(response: Response, server: Server, caller: BenchCaller) -> None:
    """Take this device's own right away."""
    with writing(server.engine) as connection:
        revoke_device(connection, caller.shop_id, caller.device_id, server.clock())
    forget(response)


@router.get("/me", operation_id="whoAmI", responses=problems(*SIGNED_IN))
def who_am_i(server: Server, caller: BenchCaller) -> DeviceBody:
    """Return this device."""
    return _body(_device(server, caller.shop_id, caller.device_id))


@router.post("/pairings", operation_id="offerPairing", status_code=201, responses=problems(*SIGNED_IN))
def offer_pairing(request: Request, wanted: NewPairing, server: Server, caller: OwnerCaller) -> PairingBody:
    """Make a code that pairs one phone within five minutes."""
    return new_pairing(request, server, caller, wanted.role)


@router.post("/devices", operation_id="pairPhone", status_code=201, responses=problems(403, 410))
def pair_phone(request: Request, response: Response, wanted: Pair, server: Server) -> DeviceBody:
    """Use a code up; the answer sets this phone's cookie."""
    device, token = paired(request, server, wanted.code, wanted.device_name)
    remember(response, request, token)
    return _body(device)


@router.get("/devices", operation_id="listDevices", responses=problems(*SIGNED_IN))
def devices_of_shop(server: Server, caller: OwnerCaller) -> list[DeviceBody]:
    """List phones, browsers and programs, the newest first, revoked ones too."""
    with reading(server.engine) as connection:
        return [_body(device) for device in list_devices(connection, caller.shop_id)]


@router.delete(
    "/devices/{device_id}", operation_id="revokeDevice", status_code=204, responses=problems(*SIGNED_IN, 404)
)
def revoke(device_id: Number, server: Server, caller: OwnerCaller) -> None:
    """Take a device's right away, at once and for good."""
    with writing(server.engine) as connection:
        known = revoke_device(connection, caller.shop_id, device_id, server.clock())
    if not known:
        raise NotFound("There is no such device.")


@router.patch("/devices/{device_id}", operation_id="renameDevice", responses=problems(*SIGNED_IN, 404, 409))
def rename(device_id: Number, wanted: NewName, server: Server, caller: OwnerCaller) -> DeviceBody:
    """Call a device by another name."""
    return _body(renamed(server, caller, device_id, wanted.name))


@router.post("/programs", operation_id="addProgram", status_code=201, responses=problems(*SIGNED_IN))
def add_program(wanted: NewProgram, server: Server, caller: OwnerCaller) -> TokenBody:
    """Make a bearer token for a program; it is shown in this answer and never again."""
    device, token = new_device(server, caller.shop_id, wanted.name, "program", wanted.role)
    return TokenBody(**_body(device).model_dump(), token=token)


def signed_in(
    request: Request, server: ServerState, passphrase: str, device_name: str | None, shop_name: str | None
) -> tuple[Device, str]:
    """Check a passphrase; return the browser's device and its token. Raises PassphraseWrong."""
    check_origin_if_told(request)
    server.limits.count(SIGN_INS, "sign-in", address_of(request))
    with reading(server.engine) as connection:
        shop = find_shop(connection, shop_name)
    if not is_passphrase(passphrase.strip(), None if shop is None else shop.passphrase_hash) or shop is None:
        raise PassphraseWrong("This is not the owner's passphrase.")
    return new_device(server, shop.id, device_name or suggested_name(request, "Browser"), "browser", OWNER)


def new_pairing(request: Request, server: ServerState, caller: Caller, role: Role) -> PairingBody:
    """Make a pairing code for a shop."""
    code, now = new_code(), server.clock()
    with writing(server.engine) as connection:
        add_pairing(connection, caller.shop_id, hash_of(code), role, now, now + PAIRING_TIME)
    address = f"{phone_address(server.settings, request)}/pair#{code}"
    return PairingBody(code=code, address=address, role=role, expires_at=now + PAIRING_TIME)


def paired(request: Request, server: ServerState, code: str, device_name: str | None) -> tuple[Device, str]:
    """Use a pairing code up; return the phone's device and its token. Raises PairingUnusable."""
    check_origin_if_told(request)
    server.limits.count(SIGN_INS, "pair", address_of(request))
    with writing(server.engine) as connection:
        used = use_pairing(connection, hash_of(tidy_code(code)), server.clock())
    if used is None:
        raise PairingUnusable("This pairing code cannot be used.")
    shop_id, role = used
    return new_device(server, shop_id, device_name or suggested_name(request, "Phone"), "phone", role)


def suggested_name(request: Request, otherwise: str) -> str:
    """Return what the browser that asks could be called."""
    return name_by_browser(request.headers.get("User-Agent", ""), otherwise)


def renamed(server: ServerState, caller: Caller, device_id: int, name: str) -> Device:
    """Call a device of the caller's shop by another name; raise NotFound or NameTaken."""
    with writing(server.engine) as connection:
        devices = list_devices(connection, caller.shop_id)
        mine = next((device for device in devices if device.id == device_id), None)
        if mine is None:
            raise NotFound("There is no such device.")
        if name in names_in_use(device for device in devices if device.id != device_id):
            raise NameTaken("Another device is called so.", file=name)
        rename_device(connection, mine, name)
    return replace(mine, name=name)


def names_in_use(devices: Iterable[Device]) -> set[str]:
    """Return the names of devices that still have their right."""
    return {device.name for device in devices if device.revoked_at is None}


def new_device(server: ServerState, shop_id: int, name: str, kind: str, role: str) -> tuple[Device, str]:
    """Add a device; return it with its token, of which only the hash is kept. A name in use gets a number."""
    token = new_token()
    with writing(server.engine) as connection:
        device = add_device(
            connection,
            shop_id,
            name=free_name(name, names_in_use(list_devices(connection, shop_id))),
            kind=kind,
            role=role,
            token_hash=hash_of(token),
            now=server.clock(),
        )
    return device, token


def check_origin_if_told(request: Request) -> None:
    """Refuse a sign-in that another site's page sends; a program tells no origin."""
    if "Origin" in request.headers or "Sec-Fetch-Site" in request.headers:
        check_origin(request)


def _device(server: ServerState, shop_id: int, device_id: int) -> Device:
    with reading(server.engine) as connection:
        devices = list_devices(connection, shop_id)
    return next(device for device in devices if device.id == device_id)


def _body(device: Device) -> DeviceBody:
    return DeviceBody(
        id=device.id,
        name=device.name,
        kind=device.kind,  # type: ignore[arg-type]
        role=device.role,  # type: ignore[arg-type]
        created_at=device.created_at,
        last_seen_at=device.last_seen_at,
        revoked_at=device.revoked_at,
    )
