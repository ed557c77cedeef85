"""A recorded day with a forecast, decided again: it is read back, and decides the same."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from tests.daemon.recorded_day import START, house, live
from tests.stories.known_room import model_of
from thermostatd.core.house import ForecastSource, House
from thermostatd.core.values import Moment, Observation
from thermostatd.daemon.observed import packed_sheet, rounded, sheet_of, steps_of, unpacked_sheet
from thermostatd.daemon.replaying import replay, stretches

DAY = "2026-01-13"
HOURS = 9


def foretold(was: House, forecast: ForecastSource | None) -> House:
    """The same house with a forecast, or without one."""
    return was.model_copy(update={"house": was.house.model_copy(update={"forecast": forecast})})


@pytest.fixture(scope="module")
def lived(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The state folder of a night and a morning under predictive control, restarted between two forecasts."""
    state = tmp_path_factory.mktemp("foretold")
    usual = [{"at": "06:30", "celsius": 19}, {"at": "22:00", "celsius": 16}]
    plain = house().model_dump(mode="json", by_alias=True)
    plain["room"][0] |= {"control": "predictive", "usual": usual}
    there = foretold(House.model_validate(plain), ForecastSource(topic="hours"))
    live(state, there, hours=HOURS, tick_seconds=60.0, restart_at=290, model=model_of())
    return state


def test_a_day_with_a_forecast_gives_the_very_same_orders(lived: Path) -> None:
    """Each hour's forecast is in the record, and every order comes out again, over a restart too."""
    recorded = stretches(lived, DAY)
    told = [seen.forecast for one in recorded for part in one.parts for _, seen in part.steps]
    assert sum(map(bool, told)) == HOURS
    assert all(len(one) == 25 for one in told if one)
    found = replay(recorded)
    assert (found.steps, found.same, list(found.spans)) == (HOURS * 60, True, [])


def test_without_its_forecast_the_same_day_is_reckoned_otherwise(lived: Path) -> None:
    """So the recorded one is gone by, even where it moves no order; a house file without the key has none."""
    assert not replay(stretches(lived, DAY), lambda was: foretold(was, None)).same


def test_a_record_of_before_there_were_forecasts_is_read() -> None:
    """Its steps have none."""
    step = (Moment(START, 5.0), Observation(air={"study": 20.0}))
    plain = json.loads(json.dumps(packed_sheet(sheet_of([rounded(*step)]))))
    assert plain["odd"] == []
    assert steps_of(unpacked_sheet(plain))[0][1].forecast == ()
    told = replace(step[1], forecast=(1.0, -2.12345))
    again = json.loads(json.dumps(packed_sheet(sheet_of([rounded(step[0], told)]))))
    assert steps_of(unpacked_sheet(again))[0][1].forecast == (1.0, -2.123)
