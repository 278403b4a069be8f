"""What pressing costs as a page: the tables, and lost blanks and first-piece yield by month as a picture."""

from collections.abc import Sequence
from typing import Final

from dyecast_api.html_text import html_text
from dyecast_api.printable_text import printable
from dyecast_api.report_page import page_text
from dyecast_api.report_standing_words import page_footer
from dyecast_api.worth.worth_lines import FIRST_PIECE, Worth, WorthLine
from dyecast_api.worth.worth_text import HEADINGS, cells, cost_words, yield_words

WIDTH, ROW, TOP = 360, 34, 24
LOST_LEFT, YIELD_LEFT, BAR = 66, 214, 92
"""Units of the picture; where the bars begin and how long the longest is. Our own choice."""

STYLE: Final = (
    ".worth-chart{--ink:#1a1a1a;--quiet:#565656;--lost:#96380a;--yield:#17603f}"
    "@media (prefers-color-scheme:dark){.worth-chart{--ink:#ececec;--quiet:#b0b0b0;--lost:#ffa578;"
    "--yield:#7fd3a6}}"
    ".worth-chart text{fill:var(--ink);font-size:12px}.worth-chart .head{font-weight:700}"
    ".worth-chart .lost{fill:var(--lost)}.worth-chart .yield{fill:none;stroke:var(--yield);stroke-width:2}"
    ".worth-chart .whole{fill:none;stroke:var(--quiet)}"
)


def worth_page(worth: Worth) -> str:
    """Return the page as HTML text."""
    total = worth.total
    told = (
        f"{total.lost} of {total.pressed} blanks lost, {cost_words(total)}; first piece good "
        f"in {total.first_good} of {total.runs} runs."
    )
    picture = f"<figure>{month_svg(worth.by_month)}<figcaption>{html_text(FIRST_PIECE)}</figcaption></figure>"
    sections = [
        '<section class="verdict"><h1>What pressing costs</h1>'
        f'<p class="lead">{html_text(told)}</p></section>',
        f"<section><h2>Month by month</h2>{picture}</section>" if worth.by_month else "",
        *(_table(f"By {by}", [*lines, total]) for by, lines in worth.tables),
    ]
    return page_text("What pressing costs", "good", "\n".join(sections), page_footer(), masthead="Worth")


def month_svg(lines: Sequence[WorthLine]) -> str:
    """Return lost blanks (filled bars) and first-piece yield (framed bars) by month, with their figures."""
    height = TOP + ROW * len(lines)
    most = max((line.lost for line in lines), default=0) or 1
    words = "; ".join(
        f"{line.name}: {line.lost} of {line.pressed} lost, first piece good in {yield_words(line)}"
        for line in lines
    )
    rows = "".join(_bars(line, TOP + ROW * place, most) for place, line in enumerate(lines))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="worth-chart" role="img" '
        f'viewBox="0 0 {WIDTH} {height}" width="{2 * WIDTH}" style="max-width:100%;height:auto" '
        f'font-family="Liberation Sans, Arial, sans-serif"><title>Lost blanks and first-piece yield by month'
        f"</title><desc>{html_text(words)}</desc><style>{STYLE}</style>"
        f'<text class="head" x="{LOST_LEFT}" y="14">lost blanks</text>'
        f'<text class="head" x="{YIELD_LEFT}" y="14">first piece good</text>{rows}</svg>\n'
    )


def _bars(line: WorthLine, top: int, most: int) -> str:
    """Draw one month: its name, a bar of lost blanks, a bar of yield within the frame of all runs."""
    base = top + 18
    share = line.first_piece_yield
    lost = BAR * line.lost / most
    drawn = f'<text x="0" y="{base}">{html_text(line.name)}</text>'
    drawn += f'<rect class="lost" x="{LOST_LEFT}" y="{top + 5}" width="{lost:.1f}" height="18"/>'
    drawn += f'<text x="{LOST_LEFT + lost + 5:.1f}" y="{base}">{line.lost} of {line.pressed}</text>'
    if share is not None:
        frame = f'x="{YIELD_LEFT}" y="{top + 5}" height="18"'
        drawn += f'<rect class="whole" {frame} width="{BAR}"/>'
        drawn += f'<rect class="yield" {frame} width="{BAR * share:.1f}"/>'
        drawn += f'<text x="{YIELD_LEFT + BAR + 5}" y="{base}">{100.0 * share:.0f} %</text>'
    return drawn


def _table(title: str, lines: Sequence[WorthLine]) -> str:
    heads = "".join(f'<th scope="col">{head}</th>' for head in ("", *HEADINGS))
    rows = "".join(
        f'<tr><th scope="row">{html_text(printable(line.name))}</th>'
        + "".join(f"<td>{html_text(cell)}</td>" for cell in cells(line))
        + "</tr>"
        for line in lines
    )
    region = f'<div class="wide" tabindex="0" role="region" aria-label="{html_text(title)}">'
    return (
        f"<section><h2>{html_text(title)}</h2>{region}<table><thead><tr>{heads}</tr></thead>"
        f"<tbody>{rows}</tbody></table></div></section>"
    )
