"""What an inspection document holds, in the words of the report; the document knows numbers as JSON does."""

import math
from collections.abc import Mapping
from typing import Any

from dyecast_api.plain_words import CHECK_NAMES, FAULT_NAMES, check_words, fault_sizes_words
from dyecast_inspect.inspection import Fault, FaultSize, PhotoCheck


def check_name(check: Mapping[str, Any]) -> str:
    """Return a check's plain name."""
    return CHECK_NAMES.get(check["name"], str(check["name"]))


def check_figures(check: Mapping[str, Any]) -> str:
    """Say what a check measured and its limit."""
    at_least = check["limit_is"] == "at least"
    value, limit = _number(check["value"]), _number(check["limit"])
    return check_words(PhotoCheck(check["name"], value, limit, check["unit"], check["passed"], "", at_least))


def fault_name(fault: Mapping[str, Any]) -> str:
    """Return a fault's plain name."""
    return FAULT_NAMES.get(fault["code"], str(fault["code"]))


def fault_sizes(fault: Mapping[str, Any]) -> str:
    """Say the sizes of a fault."""
    sizes = tuple(FaultSize(size["name"], _number(size["value"]), size["unit"]) for size in fault["sizes"])
    return fault_sizes_words(Fault(fault["code"], "", 0.0, (), sizes))


def _number(value: float | None) -> float:
    """Return a number of a document, where what is not finite is null."""
    return math.nan if value is None else value
