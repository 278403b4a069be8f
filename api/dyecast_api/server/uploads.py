"""Reading what was sent: a form with files, or a bare file; always within bounds."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from fastapi import Request
from pydantic import BaseModel, ValidationError
from starlette.datastructures import UploadFile

from dyecast_shared.request_errors import RequestInvalid

MOST_FILES: Final = 4
MOST_FIELDS: Final = 20
"""Parts of a form: more than any of ours has, fewer than would cost anything."""


Wishes = TypeVar("Wishes", bound=BaseModel)


@dataclass(frozen=True, slots=True, eq=False)
class SentFile:
    """A file that was sent; its name is only a label."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True, eq=False)
class SentForm:
    """Fields as text, and files, by name."""

    fields: Mapping[str, str]
    files: Mapping[str, SentFile]

    def file(self, name: str) -> SentFile:
        """Return a file; raise RequestInvalid when it was not sent."""
        if name not in self.files:
            raise RequestInvalid(f"The file {name} was not sent.", advice=f"Choose a file for {name}.")
        return self.files[name]


async def read_form(request: Request) -> SentForm:
    """Read a form; raise RequestInvalid for anything else."""
    if not _is_form(request):
        raise RequestInvalid("The request is no form.", advice="Send multipart/form-data.")
    fields: dict[str, str] = {}
    files: dict[str, SentFile] = {}
    async with request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS) as form:
        for name, value in form.multi_items():
            if isinstance(value, UploadFile):
                content = await value.read()
                if content or value.filename:  # browsers send an empty nameless file for an empty field
                    files[name] = SentFile(value.filename or name, content)
            elif value:
                fields[name] = value
    return SentForm(fields, files)


async def read_photo_form(request: Request) -> SentForm:
    """Read a photo with its wishes: a form, or a bare file whose wishes stand in the address."""
    wishes = dict(request.query_params)
    if _is_form(request):
        form = await read_form(request)
        return SentForm({**wishes, **form.fields}, form.files)
    name = wishes.pop("name", "photo")
    return SentForm(wishes, {"photo": SentFile(name, await request.body())})


def _is_form(request: Request) -> bool:
    return request.headers.get("Content-Type", "").lower().startswith("multipart/form-data")


def understood(model: type[Wishes], fields: Mapping[str, Any]) -> Wishes:
    """Read fields as a model; raise RequestInvalid naming what is wrong."""
    try:
        return model.model_validate(dict(fields))
    except ValidationError as error:
        said = "; ".join(f"{'.'.join(map(str, each['loc']))}: {each['msg']}" for each in error.errors()[:5])
        raise RequestInvalid(f"The form cannot be understood: {said}.") from error
