"""What the tests of the inspection share: scenes rendered and inspected once."""

import pytest

from inspected_scenes import SeenPieces


@pytest.fixture(scope="session")
def seen(tmp_path_factory: pytest.TempPathFactory) -> SeenPieces:
    """Return the scenes, each rendered when it is first asked for."""
    return SeenPieces(tmp_path_factory.mktemp("scenes"))
