"""What `thermostatd why` says when what it knows is not of now."""

from __future__ import annotations

import pytest

from tests.edge.pages.double import Double
from thermostatd.daemon.telling_why import BROKER_AWAY, why_answer


@pytest.mark.parametrize("up", [True, False])
def test_a_broker_that_is_away_is_said_first(up: bool) -> None:
    """What plugs and sensors showed last is then from before, and no order reaches a plug on it."""
    house = Double()
    house.decide()
    house.broker_up = up
    answer = why_answer(house.view(), house.house, "study")
    assert (answer["text"].splitlines()[0] == BROKER_AWAY) is not up
    assert answer["told"]["broker_up"] is up
    assert "target" in answer["text"]
