"""Typed reading of card files: JSON in, checked values out, and an error that names what is wrong."""

import json
import math
from pathlib import Path
from typing import Any, TypeGuard

from dyecast_shared.errors import CardFileInvalid, FileUnreadable

MAXIMUM_FILE_BYTES = 1_000_000
"""A card file is a few thousand bytes; anything above this many is no card file. Our own bound."""


def read_json_record(path: Path) -> dict[str, Any]:
    """Read a JSON file whose outermost value is an object.

    Raises
    ------
    FileUnreadable
        The file is missing, a folder, or may not be read.
    CardFileInvalid
        It is too large, no UTF-8, no JSON, or no object.
    """
    try:
        with path.open("rb") as stream:
            content = stream.read(MAXIMUM_FILE_BYTES + 1)
    except OSError as problem:
        reason = problem.strerror or "unknown reason"
        raise FileUnreadable(f"The file could not be read ({reason}).", file=path.name) from problem
    if len(content) > MAXIMUM_FILE_BYTES:
        raise CardFileInvalid("The file is far too large for a card file.", file=path.name)
    return _decoded(content, path.name)


def _decoded(content: bytes, file: str) -> dict[str, Any]:
    try:
        value = json.loads(content.decode("utf-8-sig"))
    except (ValueError, RecursionError) as problem:
        raise CardFileInvalid("The file is not readable as JSON.", file=file) from problem
    return record_of(value, "the file", file)


def record_of(value: object, where: str, file: str) -> dict[str, Any]:
    """Return `value` when it is a JSON object, else raise CardFileInvalid naming `where`."""
    if not isinstance(value, dict):
        raise CardFileInvalid(f"{_sentence_start(where)} is not a JSON object.", file=file)
    return value


def field_of(record: dict[str, Any], name: str, where: str, file: str) -> object:
    """Return the field `name`, or raise CardFileInvalid saying that it is missing in `where`."""
    if name not in record:
        raise CardFileInvalid(f"{_sentence_start(where)} has no field '{name}'.", file=file)
    return record[name]


def list_field(record: dict[str, Any], name: str, where: str, file: str) -> list[Any]:
    """Return a field that must be a JSON list."""
    value = field_of(record, name, where, file)
    if not isinstance(value, list):
        raise _wrong(name, where, "a list", file)
    return value


def text_field(record: dict[str, Any], name: str, where: str, file: str) -> str:
    """Return a field that must be text with at least one visible character."""
    value = field_of(record, name, where, file)
    if not isinstance(value, str) or not value.strip():
        raise _wrong(name, where, "text", file)
    return value


def flag_field(record: dict[str, Any], name: str, where: str, file: str) -> bool:
    """Return a field that must be true or false."""
    value = field_of(record, name, where, file)
    if not isinstance(value, bool):
        raise _wrong(name, where, "true or false", file)
    return value


def integer_field(record: dict[str, Any], name: str, where: str, file: str) -> int:
    """Return a field that must be a whole number, zero or more."""
    value = field_of(record, name, where, file)
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        raise _wrong(name, where, "a whole number, zero or more", file)
    return value


def number_field(record: dict[str, Any], name: str, where: str, file: str) -> float:
    """Return a field that must be a finite number."""
    value = field_of(record, name, where, file)
    if not is_finite_number(value):
        raise _wrong(name, where, "a number", file)
    return float(value)


def length_field(record: dict[str, Any], name: str, where: str, file: str) -> float:
    """Return a field that must be a finite number above zero."""
    value = number_field(record, name, where, file)
    if value <= 0:
        raise _wrong(name, where, "above zero", file)
    return value


def triple_of(value: object, name: str, where: str, file: str) -> tuple[float, float, float]:
    """Return three finite numbers, e.g. L*, a*, b*."""
    if not isinstance(value, list) or len(value) != 3 or not all(map(is_finite_number, value)):
        raise _wrong(name, where, "a list of three numbers", file)
    return (float(value[0]), float(value[1]), float(value[2]))


def srgb_field(record: dict[str, Any], name: str, where: str, file: str) -> tuple[int, int, int]:
    """Return an 8-bit sRGB colour (IEC 61966-2-1): three whole numbers in 0..255."""
    red, green, blue = triple_of(field_of(record, name, where, file), name, where, file)
    if any(level != int(level) or not 0 <= level <= 255 for level in (red, green, blue)):
        raise _wrong(name, where, "three whole numbers from 0 to 255", file)
    return (int(red), int(green), int(blue))


def is_finite_number(value: object) -> TypeGuard[int | float]:
    """Tell whether a JSON value is a number that is neither infinite, nor NaN, nor beyond float64."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    try:
        return math.isfinite(float(value))
    except OverflowError:
        return False


def _wrong(name: str, where: str, expected: str, file: str) -> CardFileInvalid:
    return CardFileInvalid(f"{_sentence_start(where)}: '{name}' must be {expected}.", file=file)


def _sentence_start(where: str) -> str:
    return where[:1].upper() + where[1:]
