"""Nothing is lost and nothing is judged twice, though clients and workers are killed at random."""

from pathlib import Path

from api.work.conftest import Shop
from api.work.kill_trial import Trial, run_trial
from dyecast_api.work.sweeper import Sweeper


def test_200_photos_of_8_clients_survive_20_kills(shop: Shop, tmp_path: Path) -> None:
    if shop.place.broker_url is not None:
        sweeper = Sweeper(shop.engine, shop.place.broker_url, seconds=0.5)
        sweeper.start()
        shop.sweepers.append(sweeper)
    outcome = run_trial(shop.place, shop.engine, Trial(), tmp_path)
    assert outcome.problems == []
    assert outcome.verdicts == ["good"] * 200
    assert len(outcome.acknowledged) == 200
    assert outcome.worker_kills + outcome.client_kills == 20
    assert max(outcome.attempts) > 1  # kills have hit inspections in hand
