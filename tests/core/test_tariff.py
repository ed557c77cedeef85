"""Prices by time of day: what a kilowatt-hour costs, and how far a room's aim may move for it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.stories.teller import Plant, Story, study
from thermostatd.core.house import House
from thermostatd.core.tariff import Prices, price_at, spans

TARIFF = """
[tariff]
currency = "kr"
per_kwh = 1.0
prices = [{{ days = "daily", from = "17:00", to = "20:00", per_kwh = {dear} }}{more}]
"""


def told(dear: float = 3.0, room: str = "", more: str = "") -> str:
    """A study under a tariff. All invented."""
    return study(room=room, more=TARIFF.format(dear=dear, more=more))


def prices(zone: str = "Europe/Oslo", **tariff: object) -> Prices:
    """The prices of an invented house."""
    return Prices(House.model_validate({"house": {"timezone": zone}, "tariff": tariff}))


NIGHT = {"from": "22:00", "to": "06:00", "days": "mon-fri", "per_kwh": 0.5}
EVENING = {"from": "17:00", "to": "20:00", "per_kwh": 3.0}


@pytest.mark.parametrize(
    ("local", "price"),
    [
        ("2026-01-12 16:59", 1.0),
        ("2026-01-12 17:00", 3.0),  # a Monday
        ("2026-01-12 20:00", 1.0),
        ("2026-01-12 23:00", 0.5),
        ("2026-01-17 05:59", 0.5),  # Saturday morning belongs to Friday's night
        ("2026-01-17 06:00", 1.0),
        ("2026-01-17 23:00", 1.0),
        ("2026-01-12 05:00", 1.0),  # Monday morning belongs to Sunday's, which has no night price
    ],
)
def test_the_first_exception_that_fits_counts(local: str, price: float) -> None:
    """Prices follow the house's clock and days; hours that pass midnight belong to the day on which they begin."""
    zone = ZoneInfo("Europe/Oslo")
    at = datetime.fromisoformat(local).replace(tzinfo=zone)
    found = prices(per_kwh=1.0, prices=[EVENING, NIGHT])
    assert found.per_kwh(at.astimezone(UTC)) == price


@pytest.mark.parametrize("begins", ["2026-03-28", "2026-10-24", "2026-01-16"])
def test_a_span_is_cut_where_the_price_changes(begins: str) -> None:
    """The cuts cover the span without gap, each minute has the price of its moment, and neighbours differ; also on the
    days on which the clocks change."""
    zone = ZoneInfo("Europe/Oslo")
    house = House.model_validate({"house": {"timezone": "Europe/Oslo"},
                                  "tariff": {"per_kwh": 1.0, "prices": [EVENING, NIGHT]}})  # fmt: skip
    since = datetime.fromisoformat(begins).replace(tzinfo=zone).astimezone(UTC)
    until = since + timedelta(days=3)
    found = spans(house, since, until)
    assert (found[0][0], found[-1][1]) == (since, until)
    for one, other in pairwise(found):
        assert one[1] == other[0]
        assert one[2] != other[2]
    for minutes in range(0, 3 * 1440, 7):
        at = since + timedelta(minutes=minutes)
        price = next(price for begin, end, price in found if begin <= at < end)
        assert price == price_at(house.tariff, at.astimezone(zone))  # type: ignore[arg-type]
    assert spans(House.model_validate({}), since, until) == [(since, until, 0.0)]


@given(st.integers(0, 366 * 1440), st.sampled_from(("Europe/Oslo", "America/St_Johns", "UTC")))
def test_the_list_of_a_day_says_what_the_tariff_says(minute: int, zone: str) -> None:
    """At any minute of a year, both odd nights included, the prepared prices are those read straight from the table."""
    found = prices(zone, per_kwh=1.0, prices=[EVENING, NIGHT])
    wall = datetime.fromtimestamp(1_767_225_600 + 60 * minute, UTC)
    local = wall.astimezone(ZoneInfo(zone))
    assert found.per_kwh(wall) == price_at(found._tariff, local)


def test_without_a_tariff_nothing_moves() -> None:
    """No prices, no price."""
    bare = Prices(House.model_validate({}))
    wall = datetime(2026, 1, 12, 12, tzinfo=UTC)
    assert bare.per_kwh(wall) == 0.0
    assert bare.shift(wall).way == 0


def test_prices_that_hardly_differ_move_nothing() -> None:
    """Under a tenth of difference the warmth lost in moving is worth more."""
    found = prices("UTC", per_kwh=1.0, prices=[{"from": "17:00", "to": "20:00", "per_kwh": 1.05}])
    ways = {found.shift(datetime(2026, 1, 12, hour, tzinfo=UTC)).way for hour in range(24)}
    assert ways == {0}


def test_a_room_is_warmer_before_and_cooler_while_it_is_dear() -> None:
    """The aim goes up two hours before, down while it is dear, and comes back; the page shows the target."""
    story = Story(told(), "2026-01-12 12:00", air=Plant(20.0, tau=40_000.0))
    story.at("14:30")
    assert story.result.rooms["study"].target.celsius == 20.0
    before = story.air["study"].celsius
    story.at("16:50")
    assert story.air["study"].celsius > before + 0.25
    assert story.result.rooms["study"].target.celsius == 20.0, "what is wanted is not what the tariff aims at"
    on_while_dear = 0
    while story.local().hour < 20:
        on_while_dear += story.step().orders["study/column"].on
        assert story.air["study"].celsius > 19.2
    assert on_while_dear < 0.85 * _steps_on_while_dear("band = 0")
    story.at("22:00")
    assert story.air["study"].celsius == pytest.approx(20.0, abs=0.35)


def _steps_on_while_dear(room: str) -> int:
    """Steps with heat between 17 and 20 o'clock of the same room under another band."""
    story = Story(told(room=room), "2026-01-12 12:00", air=Plant(20.0, tau=40_000.0)).at("16:59")
    on = 0
    while story.local().hour < 20:
        on += story.step().orders["study/column"].on
    return on


def test_the_reason_names_the_tariff() -> None:
    """Where the tariff alone makes the difference, the sentence says so, with the end of it."""
    story = Story(told(), "2026-01-12 12:00", air=19.9).at("17:30")
    reason = story.result.rooms["study"].reason
    assert reason.code == "dear-hours"
    assert "20:00" in reason.sentence
    story = Story(told(), "2026-01-12 12:00", air=20.1).at("15:30")
    assert story.on()
    assert story.code() == "cheap-hours"
    assert "17:00" in story.result.rooms["study"].reason.sentence


def test_what_a_person_asked_is_not_moved() -> None:
    """A request is kept to the tenth, dear or not."""
    story = Story(told(), "2026-01-12 16:50", air=19.75).run(1)
    story.ask(20.0)
    story.at("17:30")
    assert story.on()
    assert story.code() == "warming"


def test_a_band_of_nothing_moves_nothing() -> None:
    """The owner's word: band = 0."""
    story = Story(told(room="band = 0"), "2026-01-12 16:55", air=19.75).at("17:30")
    assert story.on()


def test_no_warmth_is_stored_for_a_night_that_cools() -> None:
    """Where the room is to cool down before it gets dear, nothing is put in store."""
    usual = 'usual = [{ at = "07:00", celsius = 20 }, { at = "16:30", celsius = 16 }]'
    toml = told().replace('usual = [{ days = "daily", at = "00:00", celsius = 20 }]', usual)
    story = Story(toml, "2026-01-12 12:00", air=20.1).at("15:45")
    assert not story.on()


def test_the_overshoot_interlock_knows_of_the_store() -> None:
    """What the tariff put into the room on purpose is no overshoot; what goes over that still is."""
    story = Story(told(), "2026-01-12 14:50", air=20.4).at("15:10").run(10, study=20.65)
    assert not story.tripped("overshoot")
    story.run(5, study=21.15)
    assert story.tripped("overshoot")
    story = Story(told(), "2026-01-12 12:00", air=20.5).at("17:30")
    assert not story.tripped("overshoot"), "when it gets dear, warmth in store is not too much"
