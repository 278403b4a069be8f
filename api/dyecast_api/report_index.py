"""The index of a folder of reports: one line a photo, each leading to its page."""

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from urllib.parse import quote

from dyecast_api.answer_words import heading_words
from dyecast_api.html_text import html_text
from dyecast_api.output_files import write_file
from dyecast_api.plain_words import confidence_words, number_words
from dyecast_api.printable_text import printable
from dyecast_api.report_page import page_text
from dyecast_api.report_standing_words import page_footer
from dyecast_api.report_verdict import verdict_symbol
from dyecast_inspect.inspection import Inspection, Verdict

INDEX_NAME: Final = "index.html"


@dataclass(frozen=True, slots=True)
class IndexLine:
    """What the index says of one photo; `page` is its report page, `peek` tells that it is a peek."""

    verdict: Verdict
    photo: str
    words: str
    page: Path
    peek: bool = False


def index_line(inspection: Inspection, page: Path) -> IndexLine:
    """Return the line of one inspection: how sure and how different, or why to take the photo again."""
    if inspection.verdict is Verdict.RETAKE:
        words = " ".join(reason.sentence for reason in inspection.reasons[:1])
    else:
        words = confidence_words(inspection)
        if inspection.delta_e_2000 is not None:
            words += f"; ΔE00 {number_words(inspection.delta_e_2000.mean)} mean"
    return IndexLine(inspection.verdict, inspection.photo, words, page, peek=inspection.peek is not None)


def write_index(lines: Sequence[IndexLine], summary: str, folder: Path) -> Path:
    """Write the index of the reports in `folder`; return its path. Raises OutputFailed."""
    path = folder / INDEX_NAME
    write_file(path, index_page(lines, summary, folder).encode("utf-8", "replace"))
    return path


def index_page(lines: Sequence[IndexLine], summary: str, folder: Path) -> str:
    """Return the index as HTML text; it links to the pages by their places relative to `folder`."""
    rows = "".join(_row(line, folder) for line in lines)
    section = f'<section><h1 class="plain">{html_text(summary)}</h1><ul class="index">{rows}</ul></section>'
    return page_text("dyecast reports", "index-page", section, page_footer())


def _row(line: IndexLine, folder: Path) -> str:
    place = quote(os.fsencode(line.page.relative_to(folder).as_posix()))
    heading = html_text(heading_words(line.verdict, peek=line.peek))
    return (
        f'<li class="{line.verdict.value}">{verdict_symbol(line.verdict)}<div>'
        f'<a href="{place}">{html_text(printable(line.photo))}</a>'
        f"<p><b>{heading}</b></p><p>{html_text(printable(line.words))}</p></div></li>"
    )
