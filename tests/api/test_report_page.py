"""The report page: one file, readable by everybody, true to the inspection."""

import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from api.inspections import card, good, over_pressed, region, retake, under_pressed
from dyecast_api.report import report_folders, write_report
from dyecast_api.report_comparison import colour_change_words, swatch_colour
from dyecast_api.report_evidence import patches_left_out
from dyecast_api.report_index import index_line, write_index
from dyecast_api.report_page import report_page
from dyecast_inspect.inspection import (
    Advice,
    ColourDifference,
    Inspection,
    Reason,
    Reference,
    RegionDifference,
)
from dyecast_shared.encodings import srgb_decode

VOID = {"meta", "img", "br", "circle", "path", "rect"}
EVERY_KIND = pytest.mark.parametrize(
    "inspection",
    [good(), under_pressed(), over_pressed(), retake()],
    ids=["good", "under", "over", "retake"],
)


class Page(HTMLParser):
    """A page taken apart: its text, tags with attributes, and every picture with the figure it stands in."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.captions: list[str] = []
        self.pictures_without_figure = 0
        self.feed(html)
        self.close()
        self.text = re.sub(r"\s+", " ", " ".join(self.words))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag == "img" and "figure" not in self.open:
            self.pictures_without_figure += 1
        if tag == "figcaption":
            self.captions.append("")
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID:
            assert self.open.pop() == tag, f"</{tag}> closes something else"

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.words.append(data)
        if "figcaption" in self.open:
            self.captions[-1] += data

    def named(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]


@EVERY_KIND
def test_the_page_is_well_formed_and_in_english(inspection: Inspection) -> None:
    page = Page(report_page(inspection))
    assert page.open == []
    assert page.named("html") == [{"lang": "en"}]
    assert len(page.named("h1")) == 1
    assert len(page.named("main")) == 1


@EVERY_KIND
def test_the_page_needs_nothing_but_itself(inspection: Inspection) -> None:
    html = report_page(inspection)
    page = Page(html)
    assert "http:" not in html
    assert "https:" not in html
    assert "url(" not in html
    assert "@import" not in html
    for tag in ("script", "link", "iframe", "object", "embed", "form", "base"):
        assert page.named(tag) == []
    assert all((image["src"] or "").startswith("data:image/png;base64,") for image in page.named("img"))
    policies = [meta["content"] for meta in page.named("meta") if "http-equiv" in meta]
    assert policies == ["default-src 'none'; img-src data:; style-src 'unsafe-inline'"]


@EVERY_KIND
def test_every_picture_has_words_beside_and_under_it(inspection: Inspection) -> None:
    page = Page(report_page(inspection))
    assert all(image["alt"] for image in page.named("img"))
    assert page.pictures_without_figure == 0
    assert all(caption.strip() for caption in page.captions)
    assert len(page.captions) == len(page.named("figure"))


@pytest.mark.parametrize(
    ("inspection", "words"),
    [
        (good(), "Good"),
        (under_pressed(), "Under-pressed"),
        (over_pressed(), "Over-pressed"),
        (retake(), "Retake the photo"),
    ],
)
def test_the_verdict_is_a_heading_in_words_beside_a_shape_of_its_own(
    inspection: Inspection, words: str
) -> None:
    html = report_page(inspection)
    assert f"<h1>{words}</h1>" in html
    assert f"<title>{words}: {inspection.photo}</title>" in html


def test_the_four_verdicts_have_four_shapes() -> None:
    pages = [report_page(inspection) for inspection in (good(), under_pressed(), over_pressed(), retake())]
    shapes = {re.findall(r'<svg viewBox="0 0 64 64".*?</svg>', html)[0] for html in pages}
    assert len(shapes) == 4


def test_the_first_section_answers_verdict_certainty_reason_and_difference() -> None:
    first = report_page(under_pressed()).split("</section>", maxsplit=1)[0]
    text = Page(first + "</section></main></body></html>").text.replace("\u00a0", " ")
    for words in ("93 % sure", "Only 62 % of the ink", "ΔE00 6.5", "tile-07.jpg", "sunset.png"):
        assert words in text


def test_what_to_do_next_comes_with_its_reason_and_its_caution() -> None:
    text = Page(report_page(under_pressed())).text.replace("\u00a0", " ")
    assert "Press 15 s longer at the same temperature." in text
    assert "At 62 % the dye was still on its way from the paper." in text
    assert "Caution: Glass is still hot long after the press opens" in re.sub(r"\s+", " ", text)


def test_a_caution_that_holds_for_two_steps_is_written_out_once() -> None:
    hot = "The press is hot."
    steps = (
        Advice("a", "Press again.", "", hot),
        Advice("b", "Look.", ""),
        Advice("c", "Press on.", "", hot),
    )
    text = re.sub(r"\s+", " ", Page(report_page(under_pressed(advice=steps))).text)
    assert text.count(hot) == 1
    assert "Caution: as for step 1." in text


def test_patches_left_out_for_one_reason_share_a_sentence() -> None:
    reasons = [Reason("patch-clipped", f"Patch {name} is overexposed.") for name in ("a1", "b2")]
    reasons.append(Reason("patch-outside", "Patch c3 is not in the photo."))
    assert patches_left_out(reasons) == [
        "Patches a1, b2 are overexposed.",
        "Patch c3 is not in the photo.",
    ]


def test_figures_checks_and_card_are_told_with_uncertainty_limit_and_trust() -> None:
    text = Page(report_page(under_pressed())).text.replace("\u00a0", " ")
    for words in (
        "62 ± 4 %",
        "cyan 58 %, magenta 63 %, yellow 66 %",
        "Sharpness of the marker edges: passed",
        "1.2 px, at most 3",
        "a6, edition 1",
        "as designed",
        "Patch f5 is clipped at white.",
        "dyecast 0.1.0",
        "sRGB was taken for granted",
    ):
        assert words in text


def test_what_metamerism_may_add_stands_beside_the_cards_own_test() -> None:
    page = report_page(good())
    own_test, metamerism = page.index("own test"), page.index("Added by metamerism")
    assert own_test < metamerism < page.index("Correction", metamerism)
    assert "1.3 to 3.6 mean" in page
    assert "0.8 to 2.3" in page


def test_the_difference_numbers_are_explained_with_their_sources() -> None:
    text = Page(report_page(good())).text
    for words in (
        "half of observers no longer accept it",
        "Paravina et al. 2015",
        "ISO 12647-7:2016",
        "0.8",
        "1.8",
    ):
        assert words in text


def test_comparisons_with_printer_and_approved_piece_are_named() -> None:
    page = report_page(good(delta_e_2000_approved=ColourDifference(0.7, 0.6, 1.5)))
    assert "Against the approved piece: mean 0.7" in page
    assert "profile can reach it: mean 5.9, median 5.6" in page


def test_a_main_colour_is_shown_in_numbers_swatches_and_words() -> None:
    page = report_page(under_pressed())
    text = Page(page).text
    assert "orange: ΔE00 9.4" in text
    assert "Lighter, less colourful" in text
    assert "#e68c46" in page  # 230, 140, 70: the swatch is the very colour of the artwork


def test_a_failed_check_says_failed_in_words_and_what_to_do() -> None:
    text = Page(report_page(retake())).text.replace("\u00a0", " ")
    assert "Sharpness of the marker edges: failed" in text
    assert "Hold the phone still." in text


def test_a_retake_page_says_what_went_wrong_and_how_to_do_better_and_invents_nothing() -> None:
    had_figures = retake(
        delta_e_2000=ColourDifference(3.3, 3.3, 3.3),
        regions=under_pressed().regions,
        features=under_pressed().features,
        pictures=under_pressed().pictures,
        probabilities=under_pressed().probabilities,
    )
    page = Page(report_page(had_figures))
    assert page.named("img") == []
    assert "The photo is too blurred to measure colours from." in page.text
    assert "How to take the photo" in page.text
    for words in ("3.3", "The main colours", "What was measured", "Ink that arrived", "% sure"):
        assert words not in page.text


@EVERY_KIND
def test_every_page_ends_with_the_dangers_of_the_press(inspection: Inspection) -> None:
    text = Page(report_page(inspection)).text
    for words in ("200", "Glass", "fumes", "magnets", "swallowed", "suppliers"):
        assert words in text.split("Safety at the press")[1]


def test_text_from_outside_cannot_become_markup() -> None:
    nasty = '<script>alert("1")</script>&amp;'
    inspection = under_pressed(
        photo=f"{nasty}.jpg",
        artwork=nasty,
        reasons=(Reason("code", nasty),),
        notes=(nasty,),
        card=card(layout=nasty, correction=nasty),
    )
    html = report_page(inspection)
    assert "<script" not in html
    assert Page(html).open == []
    assert html.count("&lt;script&gt;") >= 6


def test_the_index_leads_to_every_report_with_verdicts_in_words(tmp_path: Path) -> None:
    inspections = [good(), over_pressed(photo="<b>.jpg"), retake()]
    lines = [index_line(each, tmp_path / str(at) / "report.html") for at, each in enumerate(inspections)]
    html = write_index(lines, "3 photos: all sorts.", tmp_path).read_text(encoding="utf-8")
    page = Page(html)
    assert page.open == []
    assert [link["href"] for link in page.named("a")] == [f"{at}/report.html" for at in range(3)]
    for words in ("Good", "Over-pressed", "Retake the photo", "<b>.jpg", "too blurred", "ΔE00 1.4 mean"):
        assert words in page.text
    assert "http" not in html.replace("http-equiv", "")


def test_the_same_inspection_gives_the_same_page() -> None:
    assert report_page(under_pressed()) == report_page(under_pressed())


def test_a_difference_too_small_to_see_is_not_put_into_words() -> None:
    unchanged = RegionDifference("grey", 0.1, (50.0, 0.0, 0.0), (50.5, 0.2, 0.3), 0.5, 0.4, 0.2, 0.7)
    assert colour_change_words(unchanged) == "As the artwork asks."


@pytest.mark.parametrize(
    ("intended", "measured", "word"),
    [
        ((200, 150, 40), (200, 120, 40), "redder"),
        ((200, 120, 40), (200, 150, 40), "greener"),
        ((200, 60, 120), (200, 60, 60), "yellower"),
        ((60, 120, 60), (60, 120, 110), "bluer"),
    ],
)
def test_a_turned_hue_is_named_by_where_it_turned(
    intended: tuple[int, int, int], measured: tuple[int, int, int], word: str
) -> None:
    assert word in colour_change_words(region("some colour", intended, measured)).lower()


def test_a_swatch_beyond_the_screen_is_clipped_not_wrapped() -> None:
    assert swatch_colour((50.0, 0.0, 0.0)) == "#777777"
    assert swatch_colour((100.0, 0.0, 0.0)) == "#ffffff"
    assert re.fullmatch(r"#[0-9a-f]{6}", swatch_colour((50.0, 140.0, -140.0)))


def luminance(colour: str) -> float:
    digits = colour.lstrip("#")
    digits = "".join(2 * digit for digit in digits) if len(digits) == 3 else digits
    red, green, blue = (float(srgb_decode(int(digits[at : at + 2], 16) / 255.0)) for at in (0, 2, 4))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
@pytest.mark.parametrize("verdict", ["under-pressed", "good", "over-pressed", "retake"])
def test_text_stands_out_from_its_ground_in_light_and_dark(scheme: int, verdict: str) -> None:
    """WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1."""
    style = report_page(good()).split("<style>")[1].split("</style>")[0]
    rules = re.findall(r"(:root|\.[a-z-]+) \{([^}]*--mark[^}]*)\}", style)
    chosen = [body for name, body in rules if name in (":root", f".{verdict}")][2 * scheme : 2 * scheme + 2]
    tokens = dict(re.findall(r"(--[a-z-]+): (#[0-9a-f]+)", " ".join(chosen)))
    pairs = [
        ("--text", "--ground"),
        ("--text", "--sheet"),
        ("--text", "--mark-ground"),
        ("--quiet", "--ground"),
        ("--quiet", "--sheet"),
        ("--quiet", "--mark-ground"),
        ("--mark", "--mark-ground"),
        ("--caution", "--caution-ground"),
    ]
    assert [pair for pair in pairs if contrast(tokens[pair[0]], tokens[pair[1]]) < 4.5] == []


def test_the_report_folder_holds_the_page_and_the_document(tmp_path: Path) -> None:
    page = write_report(under_pressed(), tmp_path / "reports" / "tile-07")
    assert page == tmp_path / "reports" / "tile-07" / "report.html"
    assert "Under-pressed" in page.read_text(encoding="utf-8")
    document = json.loads((page.parent / "inspection.json").read_text(encoding="utf-8"))
    assert document["verdict"] == "under-pressed"
    assert sorted(path.name for path in page.parent.iterdir()) == ["inspection.json", "report.html"]


def test_photos_of_the_same_name_get_folders_of_their_own() -> None:
    photos = [Path("monday/tile.jpg"), Path("tuesday/tile.jpg"), Path("tile-2.jpg"), Path("tile.png")]
    folders = report_folders(photos, Path("out"))
    assert [folder.name for folder in folders] == ["tile", "tile-2", "tile-2-2", "tile-3"]


def test_the_page_names_the_approved_piece_where_it_stands_for_the_artwork() -> None:
    approved = under_pressed(artwork="friday.jpg", compared_with=Reference.APPROVED_PIECE)
    page = Page(report_page(approved))
    for words in (
        "Approved piece: friday.jpg",
        "The piece beside the approved piece",
        "Colour difference from the approved piece",
        "The approved piece, as measured from its own photo",
    ):
        assert words in page.text
    assert "The piece beside the artwork" not in page.text
    assert not [image for image in page.named("img") if "artwork" in (image["alt"] or "")]


def test_an_unchanged_colour_is_as_on_the_approved_piece() -> None:
    unchanged = RegionDifference("grey", 0.1, (50.0, 0.0, 0.0), (50.5, 0.2, 0.3), 0.5, 0.4, 0.2, 0.7)
    assert colour_change_words(unchanged, Reference.APPROVED_PIECE) == "As on the approved piece."
