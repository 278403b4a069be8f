"""Having photos inspected by a shop's server, and printing what it says as a local inspection would."""

import json
from collections.abc import Mapping
from typing import Any

from dyecast_api.answer_words import heading_words
from dyecast_api.exit_status import worst_status
from dyecast_api.inspect_order import InspectOrder
from dyecast_api.plain_words import VERDICT_SYMBOL, percent_words
from dyecast_api.printable_text import printable
from dyecast_api.server_client import ServerClient
from dyecast_api.terminal import PhotoProgress, in_verdict_colour, print_result
from dyecast_inspect.inspection import Verdict


def carry_out_remotely(order: InspectOrder, client: ServerClient) -> int:
    """Send every photo, wait for its verdict, print it; return the exit status.

    Raises DyecastError when the server cannot be reached or refuses a photo.
    """
    artwork = client.artwork_named(str(order.artwork))
    wishes = {"artwork": str(artwork), "paper": order.paper, "peek": str(order.peek).lower()}
    verdicts = []
    with PhotoProgress(len(order.photos), quiet=order.quiet) as progress:
        for photo in order.photos:
            progress.say("sending the photo")
            inspection = client.followed(client.send(photo, wishes), progress.say)
            progress.photo_done()
            with progress.aside():
                print_result(told(inspection, order))
            verdicts.append(verdict_of(inspection))
    return worst_status(verdicts)


def verdict_of(inspection: Mapping[str, Any]) -> Verdict:
    """Return the verdict; an inspection that failed counts as a photo to take again."""
    named = inspection["verdict"]
    return Verdict(named) if named in set(Verdict) else Verdict.RETAKE


def told(inspection: Mapping[str, Any], order: InspectOrder) -> str:
    """Return what is printed of an inspection: its JSON document, one line, or all in words."""
    if order.as_json:
        return json.dumps(inspection["document"] or inspection["problem"], allow_nan=False)
    verdict = verdict_of(inspection)
    words = f"{heading_words(verdict, peek=inspection['peek'])} {VERDICT_SYMBOL[verdict]}"
    line = f"{in_verdict_colour(words, verdict.value)}  {_figures(inspection)}"
    brief = order.quiet or len(order.photos) > 1
    return line if brief else "\n".join([line, *_sentences(inspection)])


def _figures(inspection: Mapping[str, Any]) -> str:
    parts = [printable(inspection["photo"])]
    if inspection["confidence"] is not None and inspection["verdict"] != Verdict.RETAKE:
        parts.append(f"{percent_words(inspection['confidence'])} sure")
    if inspection["delta_e_2000_median"] is not None:
        parts.append(f"\u0394E00 {inspection['delta_e_2000_median']:.1f} median")
    return "; ".join(parts)


def _sentences(inspection: Mapping[str, Any]) -> list[str]:
    """Return why and what to do next, a line each."""
    document, problem = inspection["document"], inspection["problem"]
    if document is None:
        return [printable(f"{problem['message']} {problem['advice']}")] if problem else []
    reasons = [each["sentence"] for each in document["reasons"]]
    advice = [f"Next: {each['sentence']}" for each in document["advice"]]
    cautions = sorted({f"Caution: {each['caution']}" for each in document["advice"] if each.get("caution")})
    return [printable(line) for line in (*reasons, *advice, *cautions)]
