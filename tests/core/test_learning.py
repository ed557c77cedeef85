"""What a history keeps of each step, minute by minute, and what comes back of it. The house is invented."""

import json
import math
from datetime import timedelta

import pytest

from tests.core.guard.cases import NOON, NOW
from tests.stories.teller import COLUMN, SECOND, house_of, study
from thermostatd.core import learning
from thermostatd.core.house import ForecastSource
from thermostatd.core.learning import LONGEST_HOLE_MINUTES, MOST_MINUTES, NOTHING, History, RoomHistory
from thermostatd.core.regulator import Regulator
from thermostatd.core.results import HeaterResult
from thermostatd.core.values import Missing, Moment, Observation, PlugReport, Reading

DEN = '[[room]]\nname = "den"\nsensor = { topic = "den/air" }\n[[room]]\nname = "loft"\nsensor = { topic = "l" }'


def told(room: RoomHistory, steps) -> dict[str, list]:
    """The columns after some steps of (steady, °C or Reading or None, W) and one that closes the last minute."""
    for steady, air, watts in steps:
        room.add(steady, Reading(air) if isinstance(air, float) else air, watts, 5.0, NOTHING)
    room.add(60.0 * (room.minute.index + 1), None, 0.0, 0.0, 0.0)
    return {
        name: [None if math.isnan(v) else round(v, 3) for v in column]
        for name, column in room.columns.items()
    }


def test_a_minute_is_the_mean_of_its_readings_and_of_its_watts():
    """Readings of its second half; watts of every step; the last outdoor air and neighbours."""
    room = RoomHistory()
    room.add(6030.0, Reading(20.0), 600.0, 1.0, 18.0)
    room.add(6040.0, Reading(21.0), 0.0, 2.0, NOTHING)
    room.add(6059.0, None, 300.0, 3.0, 19.0)
    columns = told(room, [])
    assert columns == {"celsius": [20.5], "outdoor": [3.0], "neighbours": [19.0], "watts": [300.0]}
    assert room.first == 100
    assert len(room) == 1


def test_a_reading_from_early_in_a_minute_ends_the_minute_before():
    """Under 30 seconds; alone, or as the mean with what stands there; the first of all begins its own."""
    assert told(RoomHistory(), [(0.0, 20.0, 0.0)])["celsius"] == [20.0]
    steps = [(0.0, None, 0.0), (89.9, 20.0, 0.0)]
    assert told(RoomHistory(), steps)["celsius"] == [20.0, None]
    steps = [(40.0, 19.0, 0.0), (89.9, 20.0, 0.0)]
    assert told(RoomHistory(), steps)["celsius"] == [19.5, None]
    steps = [(40.0, 19.0, 0.0), (90.0, 20.0, 0.0)]
    assert told(RoomHistory(), steps)["celsius"] == [19.0, 20.0]


def test_a_reading_counts_once_by_its_own_time():
    """The same value told again at each step is no news."""
    steps = [
        (40.0, Reading(20.0, 40.0), 0.0),
        (100.0, Reading(20.0, 40.0), 0.0),
        (160.0, Reading(21.0, 159.0), 0.0),
    ]
    assert told(RoomHistory(), steps)["celsius"] == [20.0, None, 21.0]
    steps = [(40.0, Reading(20.0, 40.0), 0.0), (50.0, Reading(22.0, 39.0), 0.0)]
    assert told(RoomHistory(), steps)["celsius"] == [20.0]


def test_another_value_of_the_same_time_is_no_news():
    """What was heard first counts."""
    steps = [(40.0, Reading(20.0, 40.0), 0.0), (50.0, Reading(25.0, 40.0), 0.0)]
    assert told(RoomHistory(), steps)["celsius"] == [20.0]


def test_a_hole_is_filled_with_the_mean_of_the_minute_that_followed():
    """Of all its steps."""
    columns = told(RoomHistory(), [(40.0, 20.0, 100.0), (180.0, 21.0, 700.0), (200.0, 21.0, 500.0)])
    assert columns["watts"] == [100.0, 600.0, 600.0, 600.0]


def test_minutes_without_a_step_hold_no_reading_and_the_watts_that_followed():
    """Up to twelve hours; longer, or back in time, and the record begins anew."""
    columns = told(RoomHistory(), [(40.0, 20.0, 100.0), (220.0, 21.0, 700.0)])
    assert columns["celsius"] == [20.0, None, None, 21.0]
    assert columns["watts"] == [100.0, 700.0, 700.0, 700.0]
    assert columns["outdoor"] == [5.0] * 4
    most = 60.0 * (LONGEST_HOLE_MINUTES + 1)
    room = RoomHistory()
    told(room, [(40.0, 20.0, 0.0), (40.0 + most, 20.0, 0.0)])
    assert (room.first, len(room)) == (0, LONGEST_HOLE_MINUTES + 2)
    room = RoomHistory()
    told(room, [(40.0, 20.0, 0.0), (100.0 + most, 20.0, 0.0)])
    assert (room.first, len(room)) == (LONGEST_HOLE_MINUTES + 2, 1)
    room = RoomHistory()
    told(room, [(6040.0, 20.0, 0.0), (3040.0, 20.0, 0.0)])
    assert (room.first, len(room)) == (50, 1)


def test_a_record_begins_with_its_first_minute():
    """However soon after the steady clock's zero: nothing is made up for the time before."""
    room = RoomHistory()
    told(room, [(6040.0, 20.0, 0.0)])
    assert (room.first, len(room)) == (100, 1)


def test_six_days_are_kept():
    """An hour over them before the oldest go; what is left keeps its minutes."""
    room = RoomHistory()
    for minute in range(MOST_MINUTES + 60):
        room.add(60.0 * minute + 40.0, Reading(float(minute % 7)), 0.0, 5.0, NOTHING)
    room._close()
    room.minute = None
    assert (room.first, len(room)) == (0, MOST_MINUTES + 60)
    told(room, [(60.0 * (MOST_MINUTES + 60) + 40.0, 9.0, 0.0)])
    assert (room.first, len(room)) == (61, MOST_MINUTES)
    assert room.columns["celsius"][-1] == 9.0
    assert room.columns["celsius"][0] == float(61 % 7)
    assert {len(column) for column in room.columns.values()} == {MOST_MINUTES}


def column(*values):
    """A room's record of some °C, with 300 W and 2 °C outdoors throughout."""
    room = RoomHistory()
    for value in values:
        room._append(NOTHING if value is None else value, 2.0, NOTHING, 300.0)
    return room


def test_five_minutes_are_meaned_over_the_longest_stretch_in_which_each_was_heard():
    """Air, outdoors and the share of full power; a first of two that are as long."""
    assert column(20, 21, None, None, None, 22, 22, 22, 22, 23).five_minute_means(600.0) == [
        (20.5, 2.0, 0.5), (22.2, 2.0, 0.5)
    ]  # fmt: skip
    hole = [None] * 5
    even = column(*[20] * 5, *hole, *[21] * 10, *hole, *[22] * 10)
    assert [row[0] for row in even.five_minute_means(600.0)] == [21.0, 21.0]
    assert column(20, 20, 20, 20).five_minute_means(600.0) == []
    assert len(column(20, 20, 20, 20, 20).five_minute_means(600.0)) == 1
    assert len(column(*[20] * 14).five_minute_means(600.0)) == 2


class Kept:
    """A history of the study (600 W) that is given steps of a Regulator, their results changed as a test wants."""

    def __init__(self, more=""):
        self.house = house_of(study(more=more))
        self.history = History(self.house)
        self.regulator = Regulator(self.house)
        self.steady = NOW

    def step(self, *, on=True, seconds=60.0, report=None, shown=None, by_hand=False, air=20.0, **observed):
        """What the study's heater counts as drawing from this step on, W."""
        moment = Moment(NOON + timedelta(seconds=self.steady - NOW), self.steady)
        plugs = {} if report is None else {COLUMN: report}
        seen = Observation(air={"study": air, **observed.pop("airs", {})}, plugs=plugs, **observed)
        result = self.regulator.step(moment, seen)
        room = result.rooms["study"]
        decided = {COLUMN: HeaterResult(True, True, on, (), shown, None, by_hand)}
        watts = self.history._watts(self.steady, plugs, decided)
        self.history.add(moment, seen, result)
        assert room.heaters.keys() == decided.keys()
        self.steady += seconds
        return watts


def test_a_heater_draws_what_is_set_until_its_meter_speaks():
    """Only from a minute after switching on; once known, that is its level."""
    kept = Kept()
    report = PlugReport(watts=410.0)
    assert watts_of(kept, [(0.0, True, None), (59.0, True, report)]) == [600.0, 600.0]
    assert watts_of(kept, [(1.0, True, report), (1.0, False, None), (1.0, True, None)]) == [410.0, 0.0, 410.0]
    assert watts_of(kept, [(60.0, True, PlugReport(watts=500.0, watts_at=kept.at + 59.0))]) == [410.0]
    assert watts_of(kept, [(0.0, True, PlugReport(watts=500.0, watts_at=kept.at))]) == [500.0]


def watts_of(kept, steps):
    """The watts after steps of (seconds since the last, on or off, report)."""
    found = []
    for seconds, on, report in steps:
        kept.at = getattr(kept, "at", NOW) + seconds
        decided = {COLUMN: HeaterResult(on, on, on, ())}
        plugs = {} if report is None else {COLUMN: report}
        found.append(kept.history._watts(kept.at, plugs, decided))
    return found


def test_a_cut_out_that_opens_is_no_level():
    """18 W and less of 600 W is drawn now, and not what it will draw when it is switched on again."""
    kept = Kept()
    low = PlugReport(watts=18.0)
    assert watts_of(kept, [(0.0, True, None), (60.0, True, low), (1.0, False, low), (1.0, True, None)]) == [
        600.0, 18.0, 0.0, 600.0
    ]  # fmt: skip
    assert watts_of(kept, [(60.0, True, PlugReport(watts=18.1)), (1.0, False, None), (1.0, True, None)]) == [
        18.1, 0.0, 18.1
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("watts", "found"), [(-5.0, 0.0), (None, 600.0), (math.nan, 600.0), (math.inf, 600.0), (0.0, 0.0)]
)
def test_a_meter_that_says_nothing_sound_counts_for_nothing(watts, found):
    """Under nothing is nothing; a report without a finite number is none."""
    assert watts_of(Kept(), [(0.0, True, None), (60.0, True, PlugReport(watts=watts))])[1] == found


def test_what_an_off_heater_shows_is_not_taken():
    """It is what the last run left on the meter."""
    kept = Kept()
    assert watts_of(
        kept, [(0.0, False, PlugReport(watts=300.0)), (90.0, False, PlugReport(watts=300.0))]
    ) == [0.0, 0.0]
    assert watts_of(kept, [(1.0, True, None)]) == [600.0]


@pytest.mark.parametrize(
    ("by_hand", "shown", "watts"),
    [(True, True, 600.0), (True, False, 0.0), (True, None, 0.0), (False, True, 0.0)],
)
def test_a_press_on_the_button_draws_too(by_hand, shown, watts):
    """Where a hand holds it and the contact is shown closed."""
    kept = Kept()
    decided = {COLUMN: HeaterResult(False, False, False, (), shown, None, by_hand)}
    assert kept.history._watts(NOW, {}, decided) == watts


def test_a_rooms_neighbours_are_the_mean_of_the_others_that_are_known():
    """Nothing where no other is; outdoors is 5 °C where it is neither told nor forecast."""
    kept = Kept(more=DEN)
    kept.step(airs={"den": 18.0, "loft": 15.0}, outdoor=-3.0, seconds=60.0)
    kept.step(airs={"den": 16.0, "loft": Missing("away")}, seconds=60.0)
    kept.step(air=Missing("silent"))
    history = kept.history.rooms
    assert next(iter(history["study"].columns["neighbours"])) == 16.5
    assert next(iter(history["den"].columns["neighbours"])) == 17.5
    assert next(iter(history["study"].columns["outdoor"])) == -3.0
    alone = Kept()
    alone.step()
    alone.step()
    assert math.isnan(alone.history.rooms["study"].columns["neighbours"][0])
    assert list(alone.history.rooms["study"].columns["outdoor"]) == [5.0]


def test_a_room_that_is_not_heard_has_neighbours_too():
    """All that are."""
    kept = Kept(more=DEN)
    kept.step(air=Missing("silent"), airs={"den": 18.0, "loft": 15.0}, seconds=60.0)
    kept.step()
    assert next(iter(kept.history.rooms["study"].columns["neighbours"])) == 16.5


def test_the_air_of_each_step_is_kept():
    """In the columns: twenty seconds into a minute, it ends the one before."""
    kept = Kept()
    for air in (20.0, 20.5, 21.0):
        kept.step(air=air, seconds=60.0)
    column = [one for one in kept.history.rooms["study"].columns["celsius"] if not math.isnan(one)]
    assert column[:2] == [20.25, 21.0]


def test_the_heaters_of_a_room_draw_together_and_each_by_its_own_meter():
    """What one is known to draw says nothing of the other."""
    second = SECOND.format(name="second", watts=400)
    history = History(house_of(study(more=second)))
    both = {key: HeaterResult(True, True, True, ()) for key in (COLUMN, "study/second")}
    assert history._watts(NOW, {}, both) == 1000.0
    assert history._watts(NOW + 60.0, {COLUMN: PlugReport(watts=410.0)}, both) == 810.0
    assert history._watts(NOW + 70.0, {"study/second": PlugReport(watts=390.0)}, both) == 800.0


def test_a_new_history_is_empty():
    """Its clock stands at midnight."""
    plain = History(house_of(study())).to_plain()
    assert (plain["version"], plain["clock_minutes"], plain["models"]) == (1, 0.0, {})
    assert plain["rooms"]["study"]["first"] == 0


def test_where_outdoors_is_not_felt_the_forecast_for_now_is_learned_from():
    """As predictive control goes by it: half way between 8 and 6° after half an hour; a reading counts before it."""
    kept = Kept()
    source = ForecastSource(topic="hours")
    table = kept.house.house.model_copy(update={"forecast": source})
    kept.regulator = Regulator(kept.house.model_copy(update={"house": table}))
    kept.step(forecast=(8.0, 6.0), seconds=1800.0)
    kept.step(seconds=60.0)
    kept.step(outdoor=-3.0, seconds=60.0)
    kept.step()
    column = list(kept.history.rooms["study"].columns["outdoor"])
    assert (column[0], column[-2], column[-1]) == (8.0, 7.0, -3.0)


def test_the_houses_clock_is_kept_as_the_minute_of_the_day_at_steady_zero():
    """Noon in Oslo is 13:00 there: 780 less the steady minutes, within a day."""
    house = house_of(study(zone="Europe/Oslo"))
    history, regulator = History(house), Regulator(house)
    moment = Moment(NOON + timedelta(seconds=30), 600.0)
    seen = Observation(air={"study": 20.0})
    history.add(moment, seen, regulator.step(moment, seen))
    assert history.clock_minutes == 780.5 - 10.0
    moment = Moment(NOON + timedelta(seconds=60), 60.0 * 800.0)
    history.add(moment, seen, regulator.step(moment, seen))
    assert history.clock_minutes == 781.0 - 800.0 + 1440.0


def lived() -> History:
    """A history of three minutes."""
    kept = Kept()
    for _ in range(4):
        kept.step()
    kept.history.models = {"study": {"gain_kelvin": 20.0}}
    return kept.history


def test_a_history_comes_back_from_plain_data():
    """Through JSON, to the last bit, without rooms that the house no longer has; anew from an empty record."""
    history = lived()
    plain = json.loads(json.dumps(history.to_plain()))
    assert plain["version"] == 1
    house = house_of(study())
    again = History.from_plain(house, plain)
    assert again.to_plain() == plain
    assert len(again.rooms["study"]) == 3
    assert again.rooms["study"].first == history.rooms["study"].first
    assert again.clock_minutes == history.clock_minutes
    assert again.models == {"study": {"gain_kelvin": 20.0}}
    plain["rooms"]["gone"] = plain["rooms"]["study"]
    assert list(History.from_plain(house, plain).rooms) == ["study"]


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"version": 2}, "it is of another version"), ({"rooms": None}, "this history cannot be read: Attr"),
        ({"clock_minutes": None}, "this history cannot be read: Type"), ({"rooms": {"study": {}}}, "this history"),
    ],
)  # fmt: skip
def test_a_history_that_cannot_be_read_says_why(change, why):
    """One ValueError, whatever the damage."""
    plain = lived().to_plain() | change
    with pytest.raises(ValueError, match=f"^{why}"):
        History.from_plain(house_of(study()), plain)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("AAAA", "^this history cannot be read"),
        ("é", "ASCII"),
        ("A", "base64|padded|characters"),
        ("eJw!DAAAAAAE=", "[Bb]ase64"),
    ],
)
def test_a_column_that_is_damaged_says_so(text, why):
    """No base 64, no zlib, or another length than the rest."""
    plain = lived().to_plain()
    plain["rooms"]["study"]["watts"] = text
    with pytest.raises(ValueError, match=why):
        History.from_plain(house_of(study()), plain)
    plain["rooms"]["study"]["watts"] = learning._spelled(RoomHistory().columns["watts"])
    with pytest.raises(ValueError, match=r'^the columns of "study" are not of one length$'):
        History.from_plain(house_of(study()), plain)


def test_models_are_learned_room_by_room_and_kept(monkeypatch):
    """Each is held against the one in use; a room that tells nothing keeps what it had."""
    asked = []

    def model_of(room, rooms, kept, minutes, before):
        asked.append((room.name, rooms, kept, minutes, before))
        return {"gain_kelvin": 30.0} if room.name == "study" else None

    monkeypatch.setattr("thermostatd.core.modelling.model_of", model_of)
    house = house_of(study(more=DEN))
    history = History(house)
    history.clock_minutes = 7.0
    history.models = {"study": {"gain_kelvin": 1.0}, "den": {"gain_kelvin": 2.0}}
    assert learning.fit(house, history) == {"study": {"gain_kelvin": 30.0}}
    assert asked[:2] == [
        ("study", 3, history.rooms["study"], 7.0, {"gain_kelvin": 1.0}),
        ("den", 3, history.rooms["den"], 7.0, {"gain_kelvin": 2.0}),
    ]
    assert history.models == {"study": {"gain_kelvin": 30.0}, "den": {"gain_kelvin": 2.0}}
    learning.fit(house, history, {"study": {"gain_kelvin": 5.0}})
    assert (asked[3][4], asked[4][4]) == ({"gain_kelvin": 5.0}, None)
