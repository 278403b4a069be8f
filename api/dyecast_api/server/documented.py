"""Pieces of the interface document (OpenAPI 3.1) that several endpoints share."""

from typing import Any, Final

from dyecast_api.server.api_models import ProblemBody
from dyecast_api.server.problems import MEDIA_TYPE

_PROBLEM: Final = {
    "description": "A problem document: what went wrong and what to do about it.",
    "content": {MEDIA_TYPE: {"schema": {"$ref": f"#/components/schemas/{ProblemBody.__name__}"}}},
}


def problems(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Return an endpoint's answers that are problem documents; 422, 429 and 503 are always among them."""
    return {status: {**_PROBLEM, "model": ProblemBody} for status in sorted({*statuses, 422, 429, 503})}


SIGNED_IN: Final = (401, 403)
"""What an endpoint answers those who may not ask."""


def form_body(
    properties: dict[str, Any], required: tuple[str, ...], raw: tuple[str, ...] = ()
) -> dict[str, Any]:
    """Describe a body of form fields, which may also be sent as a bare file of the types in `raw`."""
    content: dict[str, Any] = {
        "multipart/form-data": {
            "schema": {"type": "object", "properties": properties, "required": list(required)}
        }
    }
    for media_type in raw:
        content[media_type] = {"schema": {"type": "string", "format": "binary"}}
    return {"requestBody": {"required": True, "content": content}}


def file_answer(*media_types: str) -> dict[int | str, dict[str, Any]]:
    """Describe a file of one of these types, which a browser may have already."""
    content: dict[str, Any] = {media_type: {} for media_type in media_types}
    return {
        200: {"content": content, "description": "The file."},
        304: {"description": "The browser has it."},
        **problems(404),
    }


def document_answer(media_type: str, description: str) -> dict[int | str, dict[str, Any]]:
    """Describe an answer of this type that is made when it is asked for."""
    return {200: {"content": {media_type: {}}, "description": description}, **problems(404)}


FILE: Final = {"type": "string", "format": "binary"}
"""A file, in the words of the interface document."""
