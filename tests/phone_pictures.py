"""Draw the README's two pictures of a phone: the bench, and a verdict. Needs Debian's chromium.

    python tests/phone_pictures.py

The piece is made by the tests' scene maker, pressed too short.
"""

import tempfile
from pathlib import Path
from typing import Final

from api.pages.shop_browser import (
    PHONE,
    add_artwork,
    pair,
    pairing_address,
    photographed,
    running_browser,
    running_shop,
    sign_in,
    take_photo,
    verdict_of,
)

PICTURES: Final = Path(__file__).parent / "pictures"

DOSE: Final = 0.6
"""Of the right one: clearly under-pressed."""


def draw(folder: Path) -> None:
    """Run a shop in a folder, take a photo at its bench, and keep what the phone shows."""
    photo, artwork = photographed(folder, "coaster", DOSE)
    with running_shop(folder / "shop") as shop, running_browser() as browser:
        owner, phone = browser.new_page(), browser.new_context(**PHONE, reduced_motion="reduce").new_page()
        sign_in(owner, shop)
        add_artwork(owner, shop, "Coaster", artwork)
        pair(phone, pairing_address(owner, shop))
        phone.screenshot(path=PICTURES / "phone-bench.png")
        take_photo(phone, photo)
        verdict_of(phone, "coaster.jpg")
        phone.wait_for_load_state("networkidle")
        phone.screenshot(path=PICTURES / "phone-verdict.png")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        (Path(made) / "shop").mkdir()
        draw(Path(made))
