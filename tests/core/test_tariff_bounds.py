"""Where dear hours begin and end, and how far an aim moves for them, bound by bound. Prices are invented."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.core.guard.cases import NOW, now_at
from tests.stories.teller import COLUMN, PANEL, house_of, study
from thermostatd.core.demand import Wants
from thermostatd.core.house import House
from thermostatd.core.reading import Readings
from thermostatd.core.reasons import DEMANDS, reason
from thermostatd.core.results import Demand, Target
from thermostatd.core.said import said as say
from thermostatd.core.tariff import Prices, Shift, aims, higher, price_at, said, spans
from thermostatd.core.values import Missing, Reading

EVENING = {"from": "17:00", "to": "20:00", "per_kwh": 3.0}
NIGHT = {"from": "22:00", "to": "06:00", "per_kwh": 0.5}
MIDNIGHT = datetime(2026, 1, 12, tzinfo=UTC)  # a Monday


def prices(*exceptions, zone="UTC", per_kwh=1.0):
    """Prices of an invented house."""
    tariff = {"per_kwh": per_kwh, "prices": list(exceptions)}
    return Prices(House.model_validate({"house": {"timezone": zone}, "tariff": tariff}))


def shift(found, hours):
    """Which way at so many hours of that Monday, and until which hour."""
    moved = found.shift(MIDNIGHT + timedelta(hours=hours))
    return moved.way, (moved.until - MIDNIGHT.timestamp()) / 3600.0


@pytest.mark.parametrize(
    ("hours", "way", "until"),
    [
        (14.999, 0, 17.0), (15.0, 1, 17.0), (16.999, 1, 17.0), (17.0, -1, 20.0), (19.999, -1, 20.0),
        (20.0, 0, 41.0), (0.0, 0, 17.0), (23.9, 0, 41.0), (24.0, 0, 41.0), (39.0, 1, 41.0),
    ],
)  # fmt: skip
def test_an_aim_goes_up_two_hours_before_it_gets_dear_and_down_while_it_is(hours, way, until):
    """To the second, from day to day."""
    found = prices(EVENING)
    assert shift(found, hours) == (way, pytest.approx(until))
    assert shift(found, 12.0) == (0, 17.0)


def test_dear_hours_that_touch_are_one_stretch():
    """It ends where the last of them does."""
    found = prices(EVENING, {"from": "20:00", "to": "21:00", "per_kwh": 2.9})
    assert shift(found, 18.0) == (-1, 21.0)
    assert shift(found, 16.0) == (1, 17.0)


def test_a_week_that_is_dear_on_one_day_looks_three_days_ahead():
    """Beyond the known prices nothing is said to come: until a day after the last of them."""
    found = prices(EVENING | {"days": "sun"})
    assert shift(found, 12.0) == (0, 92.0 + 24.0)
    found = prices({"from": "00:00", "to": "00:00", "per_kwh": 3.0, "days": "mon-sat"})
    assert shift(found, 12.0)[0] == 0


@pytest.mark.parametrize(
    ("dear", "low", "way"),
    [
        (1.0, 1.0, 0), (1.111, 1.0, 0), (1.112, 1.0, -1), (-0.899, -1.0, -1), (-0.901, -1.0, 0),
        (0.1, -1.0, -1), (2.0, 0.0, -1), (0.0, 0.0, 0), (-1.0, 0.0, 0),
    ],
)  # fmt: skip
def test_prices_that_differ_by_less_than_a_tenth_are_even(dear, low, way):
    """By the greater of the two, whatever their signs."""
    assert prices(EVENING | {"per_kwh": dear}, per_kwh=low).shift(MIDNIGHT + timedelta(hours=18)).way == way


@pytest.mark.parametrize(("middle", "dear"), [(1.62, False), (1.64, True)])
def test_dear_is_over_the_days_mean_by_a_share_of_its_spread(middle, dear):
    """Three hours at 3, three in the middle, the rest at 1: over (27 + 3m)/24 + 0.15 × 2, so m over 1.629 (derived)."""
    found = prices(EVENING, {"from": "09:00", "to": "12:00", "per_kwh": middle})
    assert (shift(found, 10.0)[0] == -1) is dear


def test_what_is_dear_is_judged_by_the_day_itself():
    """Monday's evening is dear; Tuesday's, at a twentieth more, is not."""
    found = prices(EVENING | {"days": "mon"}, EVENING | {"per_kwh": 1.05, "days": "tue"})
    assert shift(found, 18.0) == (-1, 20.0)
    assert shift(found, 24.0 + 18.0)[0] == 0
    assert shift(found, 24.0 + 16.0)[0] == 0
    assert shift(found, 18.0) == (-1, 20.0)


def test_hours_over_midnight_count_for_the_day_they_lie_in():
    """A night at half price: all of the day is dear but the night; the limit is its mean of 0.83 and 0.15 × 0.5."""
    found = prices(NIGHT)
    assert shift(found, 12.0) == (-1, 22.0)
    assert shift(found, 23.0) == (0, 30.0)
    assert shift(found, 5.0) == (1, 6.0)
    assert shift(found, 3.0) == (0, 6.0)


def test_without_exceptions_nothing_moves():
    """Now, and no end of it."""
    wall = MIDNIGHT + timedelta(hours=3)
    assert prices().shift(wall) == Shift(0, wall.timestamp())
    assert Prices(House.model_validate({})).shift(wall) == Shift(0, wall.timestamp())
    assert prices().per_kwh(wall) == 1.0


def test_prices_follow_the_houses_own_clock():
    """Oslo is an hour ahead in January; a day is made anew at its own midnight."""
    found = prices(EVENING, zone="Europe/Oslo")
    assert [found.per_kwh(MIDNIGHT + timedelta(hours=h)) for h in (15.99, 16, 18.99, 19)] == [
        1.0,
        3.0,
        3.0,
        1.0,
    ]
    assert shift(found, 14.0) == (1, 16.0)
    assert shift(found, 23.5) == (0, 40.0)


def test_the_first_exception_that_fits_counts_on_its_own_days():
    """A night that begins on Friday holds until Saturday morning."""
    monday = {"from": "18:00", "to": "19:00", "per_kwh": 9.0, "days": "mon"}
    house = House.model_validate(
        {"tariff": {"per_kwh": 1.0, "prices": [monday, EVENING, NIGHT | {"days": "fri"}]}}
    )
    tariff = house.tariff
    zone = ZoneInfo("UTC")
    for when, price in (
        ("2026-01-12 18:00", 9.0), ("2026-01-12 19:00", 3.0), ("2026-01-13 18:00", 3.0), ("2026-01-12 20:00", 1.0),
        ("2026-01-16 22:00", 0.5), ("2026-01-16 21:59", 1.0), ("2026-01-17 05:59", 0.5), ("2026-01-17 06:00", 1.0),
        ("2026-01-16 05:59", 1.0), ("2026-01-17 22:00", 1.0), ("2026-01-18 00:30", 1.0),
    ):  # fmt: skip
        assert price_at(tariff, datetime.fromisoformat(when).replace(tzinfo=zone)) == price


def test_a_span_begins_and_ends_where_it_was_asked_to():
    """Also in the middle of a price, and exactly at a change."""
    house = House.model_validate({"tariff": {"per_kwh": 1.0, "prices": [EVENING]}})
    at = [MIDNIGHT + timedelta(hours=h) for h in (16.5, 17, 20, 41, 44, 45)]
    assert spans(house, at[0], at[5]) == [
        (at[0], at[1], 1.0), (at[1], at[2], 3.0), (at[2], at[3], 1.0), (at[3], at[4], 3.0), (at[4], at[5], 1.0)
    ]  # fmt: skip
    assert spans(house, at[1], at[2]) == [(at[1], at[2], 3.0)]
    assert spans(house, at[0], at[1]) == [(at[0], at[1], 1.0)]


def test_hours_from_midnight_to_midnight_are_the_whole_day():
    """And no other."""
    house = House.model_validate(
        {
            "tariff": {
                "per_kwh": 1.0,
                "prices": [{"from": "00:00", "to": "00:00", "per_kwh": 3.0, "days": "mon"}],
            }
        }
    )
    assert [price_at(house.tariff, MIDNIGHT + timedelta(hours=h)) for h in (-0.1, 0, 12, 23.9, 24)] == [
        1,
        3,
        3,
        3,
        1,
    ]


def test_the_day_that_dear_is_judged_by_is_the_houses_own():
    """Half past midnight in Oslo is Tuesday, whose small hours are dear for it, and not for Monday."""
    found = prices(
        {"from": "17:00", "to": "20:00", "per_kwh": 9.0, "days": "mon"},
        {"from": "00:00", "to": "06:00", "per_kwh": 1.5, "days": "tue"},
        zone="Europe/Oslo",
    )
    assert shift(found, 23.5) == (-1, 29.0)
    assert shift(found, 22.9)[0] == 0


def test_the_first_hour_of_a_day_counts_for_it_and_the_last_of_the_day_before_does_not():
    """To the minute, by the house's own midnight."""
    first = prices({"from": "00:00", "to": "01:00", "per_kwh": 9.0, "days": "mon"}, zone="Europe/Oslo")
    assert shift(first, -0.5) == (-1, 0.0)
    last = prices({"from": "23:00", "to": "00:00", "per_kwh": 9.0, "days": "sun"},
                  EVENING | {"per_kwh": 1.5, "days": "mon"})  # fmt: skip
    assert shift(last, 18.0) == (-1, 20.0)


def test_a_span_is_cut_by_the_houses_own_days():
    """From late in the evening of the day before, and until early in the morning of the day after, by UTC."""
    west = House.model_validate(
        {"house": {"timezone": "America/St_Johns"}, "tariff": {"per_kwh": 1.0, "prices": [NIGHT]}}
    )
    since = MIDNIGHT + timedelta(hours=0.5)  # 21:00 on Sunday there
    cut = since + timedelta(hours=1)
    assert spans(west, since, cut + timedelta(hours=1)) == [
        (since, cut, 1.0),
        (cut, cut + timedelta(hours=1), 0.5),
    ]
    east = House.model_validate(
        {"house": {"timezone": "Europe/Oslo"},
         "tariff": {"per_kwh": 1.0, "prices": [{"from": "00:15", "to": "06:00", "per_kwh": 0.5}]}}
    )  # fmt: skip
    since, cut = MIDNIGHT + timedelta(hours=22), MIDNIGHT + timedelta(hours=23.25)
    until = MIDNIGHT + timedelta(hours=23.5)
    assert spans(east, since, until) == [(since, cut, 1.0), (cut, until, 0.5)]


USUAL = Target(20.0, "usual", "usual")
DEAR = "[tariff]\nper_kwh = 1.0\n" + 'prices = [{ from = "17:00", to = "20:00", per_kwh = 3.0 }]'


def aimed(hours, target=USUAL, room="", **now):
    """The study's aim at so many hours of the day."""
    house = house_of(study(room=room, more=DEAR))
    wall = MIDNIGHT + timedelta(hours=hours)
    return aims(house, Prices(house), {"study": target}, now_at(wall=wall, **now))["study"]


@pytest.mark.parametrize(
    ("hours", "room", "celsius"),
    [
        (12.0, "", 20.0), (16.0, "", 20.5), (18.0, "", 19.5),
        (16.0, "band = 1.5", 21.5), (18.0, "band = 1.5", 18.5), (16.0, "band = 0", 20.0), (18.0, "band = 0", 20.0),
        (16.0, "household = { highest = 20.2 }", 20.2), (16.0, "household = { highest = 19 }", 20.0),
        (16.0, "ceiling_celsius = 21.7", 20.2), (16.0, "ceiling_celsius = 21", 20.0),
        (18.0, "household = { lowest = 19.8 }", 19.8), (18.0, "household = { lowest = 20.5 }", 20.0),
        (16.0, "band = 3", 23.0), (16.0, "band = 0.001", 20.001),
    ],
)  # fmt: skip
def test_an_aim_moves_by_the_band_within_the_limits(hours, room, celsius):
    """Up to 1.5 K under the ceiling; never the wrong way, also where the week itself lies outside the limits."""
    found = aimed(hours, room=room)
    assert found.celsius == pytest.approx(celsius)
    assert (found.whose, found.code) == ("usual", "usual")


def test_what_a_person_asked_and_frost_are_not_moved():
    """And nothing while the clock is doubted, or without a tariff."""
    for code in ("asked", "frost", "out"):
        assert aimed(18.0, Target(20.0, "Ana", code)).celsius == 20.0
    assert aimed(18.0, doubted=NOW).celsius == 20.0
    house = house_of(study())
    targets = {"study": USUAL}
    assert aims(house, Prices(house), targets, now_at()) is targets
    dear = house_of(study(more=DEAR))
    assert aims(dear, Prices(dear), targets, now_at()) is targets


@pytest.mark.parametrize(
    ("next_celsius", "next_in", "celsius"),
    [
        (18.0, 3599.0, 20.0), (18.0, 3600.0, 20.5), (20.0, 3599.0, 20.5), (21.0, 3599.0, 20.5), (None, 3599.0, 20.5),
        (18.0, None, 20.5),
    ],
)  # fmt: skip
def test_nothing_is_put_in_store_for_a_room_that_cools_before_it_gets_dear(next_celsius, next_in, celsius):
    """At 16 o'clock: an hour before."""
    at = None if next_in is None else NOW + next_in
    assert aimed(16.0, Target(20.0, "usual", "usual", None, next_celsius, at)).celsius == celsius


def test_overshoot_is_measured_from_the_higher():
    """Room by room."""
    targets = {"a": USUAL, "b": USUAL}
    moved = {"a": Target(20.5, "usual", "usual"), "b": Target(19.5, "usual", "usual")}
    assert higher(targets, moved) == {"a": moved["a"], "b": USUAL}
    assert higher(targets, targets) is targets


WARMING, ENOUGH = reason("warming", target=20.5, eta=""), reason("warm-enough")
BY_HAND = reason("by-hand", until="13:00")
HOURS = say(" There in about {span}.", span="3 hours")
AT = say(" It will be {target:.1f}° at {at}.", target=20.5, at="19:00")


@pytest.mark.parametrize(
    ("hours", "on", "air", "aim", "code"),
    [
        (16.0, True, 20.0, 20.5, "cheap-hours"), (16.0, True, 19.9, 20.5, "warming"), (16.0, False, 20.2, 20.5, None),
        (16.0, True, 20.0, 20.0, None), (18.0, False, 19.9, 19.5, "dear-hours"), (18.0, False, 20.0, 19.5, None),
        (18.0, True, 19.4, 19.5, "dear-heating"), (18.0, True, 20.1, 19.5, "dear-heating"),
        (16.0, False, 19.9, 20.5, None),
    ],
)  # fmt: skip
def test_the_tariff_is_named_where_it_makes_the_difference(hours, on, air, aim, code):
    """With its end; under the wish the way up is to the wish. A press on the button keeps its own reason."""
    house = house_of(study(more=DEAR))
    demand = Demand(on, float(on), WARMING if on else ENOUGH)
    wants = Wants({"study": demand}, {COLUMN: (on, demand.reason), PANEL: (True, BY_HAND)})
    targets, aimed = {"study": USUAL}, {"study": Target(aim, "usual", "usual")}
    now = now_at(wall=MIDNIGHT + timedelta(hours=hours))
    readings = Readings({"study": Reading(air)}, Missing(""), ())
    found = said(wants, house, readings, targets, aimed, Prices(house), now)
    until = "17:00" if hours == 16.0 else "20:00"
    numbers = {"target": 20.0 if code == "warming" else aim, "until": until, "eta": ""}
    numbers = {name: one for name, one in numbers.items() if f"{{{name}" in DEMANDS.get(code or "", "")}
    why = reason(code, **numbers) if code else demand.reason
    assert found.rooms["study"] == Demand(on, float(on), why)
    assert found.heaters == {COLUMN: (on, why), PANEL: (True, BY_HAND)}
    pressed = Wants({"study": demand}, {COLUMN: (True, BY_HAND)})
    assert said(pressed, house, readings, targets, aimed, Prices(house), now).heaters[COLUMN] == (
        True,
        BY_HAND,
    )
    away = Readings({"study": Missing("silent")}, Missing(""), ())
    assert said(wants, house, away, targets, aimed, Prices(house), now).rooms["study"] == demand


@pytest.mark.parametrize(
    ("hours", "on", "air", "aim", "before", "after"),
    [
        (18.0, True, 19.0, 19.5, reason("portion", percent=43.0, target=19.5),
         reason("dear-heating", target=19.5, until="20:00", eta="")),
        (16.0, True, 19.8, 20.5, reason("portion", percent=43.0, target=20.5),
         reason("portion", percent=43.0, target=20.0)),
        (18.0, False, 20.2, 19.5, reason("cooling-down", target=19.5), reason("cooling-down", target=20.0)),
        (16.0, True, 19.8, 20.5, reason("warming", target=20.5, eta=HOURS), reason("warming", target=20.0, eta="")),
        (16.0, True, 19.8, 20.5, reason("warming", target=20.5, eta=AT), reason("warming", target=20.0, eta=AT)),
        (18.0, True, 19.0, 19.5, reason("warming", target=19.5, eta=AT),
         reason("dear-heating", target=19.5, until="20:00", eta=AT)),
        (18.0, True, 19.0, 19.5, reason("cannot-hold", target=19.5, reach=19.1, outdoor=-4.0), None),
    ],
)  # fmt: skip
def test_a_sentence_names_other_degrees_than_the_wish_only_with_the_price(hours, on, air, aim, before, after):
    """Wanted stands beside it on the page: 20.0 and "towards 19.5" would contradict each other."""
    house = house_of(study(more=DEAR))
    wants = Wants({"study": Demand(on, float(on), before)}, {COLUMN: (on, before)})
    now = now_at(wall=MIDNIGHT + timedelta(hours=hours))
    readings = Readings({"study": Reading(air)}, Missing(""), ())
    aimed = {"study": Target(aim, "usual", "usual")}
    found = said(wants, house, readings, {"study": USUAL}, aimed, Prices(house), now)
    assert (found.rooms["study"].reason, found.heaters[COLUMN]) == (after or before, (on, after or before))


def test_one_room_that_says_nothing_of_the_tariff_leaves_the_next():
    """And where no aim was moved the wants are the same."""
    more = DEAR + '\n[[room]]\nname = "den"\nsensor = { topic = "d" }'
    house = house_of(study(more=more))
    demand = Demand(False, 0.0, ENOUGH)
    wants = Wants({"study": demand, "den": demand}, {COLUMN: (False, ENOUGH)})
    targets = {"study": USUAL, "den": USUAL}
    aimed = {"study": USUAL, "den": Target(19.5, "usual", "usual")}
    readings = Readings({"study": Reading(19.9), "den": Reading(19.9)}, Missing(""), ())
    now = now_at(wall=MIDNIGHT + timedelta(hours=18))
    found = said(wants, house, readings, targets, aimed, Prices(house), now)
    assert [found.rooms[name].reason.code for name in ("study", "den")] == ["warm-enough", "dear-hours"]
    assert said(wants, house, readings, targets, targets, Prices(house), now) is wants
