"""The shop's pages: rendered by the server, with small scripts of our own and nothing from elsewhere."""

from fastapi import FastAPI

from dyecast_api.server.pages import (
    artwork_pages,
    batch_pages,
    bench_page,
    card_pages,
    device_pages,
    inspection_pages,
    press_pages,
    settings_pages,
    sign_in_pages,
    static_files,
)
from dyecast_api.server.pages.page_errors import error_page

ROUTERS = (
    static_files.router,
    sign_in_pages.router,
    bench_page.router,
    inspection_pages.router,
    artwork_pages.router,
    batch_pages.router,
    press_pages.router,
    device_pages.router,
    card_pages.router,
    settings_pages.router,
)


def include_pages(app: FastAPI) -> None:
    """Add the pages to the application; errors outside of its interface become pages too."""
    for router in ROUTERS:
        app.include_router(router, include_in_schema=False)
    app.state.error_page = error_page
