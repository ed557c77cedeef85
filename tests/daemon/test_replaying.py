"""A recorded day decided again: the very same orders, or where another setting would have decided otherwise."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.daemon.recorded_day import START, house, live, requests
from thermostatd.core.asking import NEXT_STEP, NO_END, AllOff, Ask, Cancel, Out, RoomOff, Seen, WarmMe
from thermostatd.core.values import Missing, Moment, Observation, PlugReport, Reading
from thermostatd.daemon.asked_plain import plain_request, request_of
from thermostatd.daemon.observed import packed_sheet, rounded, sheet_of, steps_of, unpacked_sheet
from thermostatd.daemon.replaying import recorded_days, replay, stretches
from thermostatd.edge.store import Store, StoreError

DAY = "2026-01-13"


@pytest.fixture(scope="module")
def lived(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The state folder of a day with requests, a refusal, something learned and a restart."""
    state = tmp_path_factory.mktemp("lived")
    switched = live(state, house(), tick_seconds=60.0, asked=requests(), restart_at=600)
    assert min(switched.values()) > 6, "a day in which nothing was switched proves nothing"
    return state


def test_the_same_setting_gives_the_very_same_orders(lived: Path) -> None:
    """Every order of every step, with its reason and its lapse, comes out again, over a restart too."""
    recorded = stretches(lived, DAY)
    assert len(recorded) == 2, "a start begins a stretch of its own"
    found = replay(recorded)
    assert found.steps == 1440
    assert found.same
    assert not found.spans
    for tally in found.heaters.values():
        assert (tally.was_seconds, tally.was_switches) == (tally.now_seconds, tally.now_switches)
        assert tally.was_seconds > 0


def test_one_order_more_is_noticed(lived: Path) -> None:
    """A request that was not recorded would make another day: the proof fails."""
    recorded = stretches(lived, DAY)
    assert any(part.between for part in recorded[0].parts)
    for stretch in recorded:
        for part in stretch.parts:
            part.between.clear()  # type: ignore[attr-defined]
    found = replay(recorded)
    assert not found.same
    assert found.spans


def test_another_setting_shows_where_it_differs(lived: Path) -> None:
    """A higher differential switches less; each difference has its time and both reasons."""

    def wider(was):
        rooms = tuple(r.model_copy(update={"differential": 2.0, "control": "hysteresis"}) for r in was.rooms)
        return was.model_copy(update={"rooms": rooms})

    found = replay(stretches(lived, DAY), wider)
    assert found.spans
    assert all(span.was_on != span.now_on and span.begins <= span.ends for span in found.spans)
    study = found.heaters["study/column"]
    assert study.now_switches < study.was_switches
    codes = {span.now_code for span in found.spans}
    assert not codes & {"silent-plug", "by-hand", "drawing-nothing", "drawing-while-off"}, (
        "each plug is taken to obey what it is now told"
    )


def test_air_that_cannot_answer_is_not_asked_whether_it_does(lived: Path) -> None:
    """Heaters that would have heated all day are not rested, nor found to be carried away: the air is as it was."""

    def warmer(was):
        warm = tuple(step.model_copy(update={"celsius": 23.0}) for step in was.rooms[0].usual)
        rooms = tuple(r.model_copy(update={"usual": warm, "control": "hysteresis"}) for r in was.rooms)
        return was.model_copy(update={"rooms": rooms})

    found = replay(stretches(lived, DAY), warmer)
    assert {span.now_code for span in found.spans if span.now_on} >= {"warming"}
    assert "no-answer" not in {code for span in found.spans for code in (span.was_code, span.now_code)}
    for tally in found.heaters.values():
        assert tally.now_seconds > tally.was_seconds + 6 * 3600.0, "it had been 7 h less, by a heater found missing"


def test_a_heater_that_one_setting_lacks_is_named_and_not_compared(lived: Path) -> None:
    """Another name is another heater: its day is not called the same, nor one of no hour."""

    def renamed(was):
        study, attic = was.rooms
        return was.model_copy(update={"rooms": (study.model_copy(update={"name": "den"}), attic)})

    found = replay(stretches(lived, DAY), renamed)
    assert (found.gone, found.new) == ({"study/column"}, {"den/column"})
    assert found.heaters.keys() == {"attic/column"}
    assert {span.heater for span in found.spans} <= {"attic/column"}


def test_a_day_without_a_record_names_those_there_are(lived: Path, tmp_path: Path) -> None:
    """Who asks for the wrong day is told the right ones."""
    with pytest.raises(StoreError, match=DAY):
        stretches(lived, "2020-01-01")
    with pytest.raises(StoreError, match="--state"):
        recorded_days(tmp_path)


def test_a_day_is_read_beside_a_running_daemon(lived: Path) -> None:
    """Reading takes no lock and writes nothing."""
    with closing(sqlite3.connect(lived / "thermostatd.db")) as before:
        assert before.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    store = Store.open(lived, lambda: 0.0)
    try:
        assert recorded_days(lived) == [DAY]
        assert stretches(lived, DAY)
    finally:
        store.close()


def test_days_are_kept_for_a_fortnight(tmp_path: Path) -> None:
    """What began longer ago than asked is forgotten with its house file, the rest is kept."""
    live(tmp_path, house(), hours=1, tick_seconds=60.0)
    store = Store.open(tmp_path, lambda: 0.0)
    try:
        assert store.forget_inputs(START - timedelta(days=1)) == 0
        assert recorded_days(tmp_path) == [DAY]
        assert store.forget_inputs(START + timedelta(days=1)) > 0
    finally:
        store.close()
    assert recorded_days(tmp_path) == []
    with closing(sqlite3.connect(tmp_path / "thermostatd.db")) as left:
        counts = [
            left.execute(f"SELECT count(*) FROM {t}").fetchone()[0] for t in ("segment", "input", "described")
        ]
    assert counts == [0, 0, 0]


def test_private_parts_of_the_house_file_are_not_recorded(tmp_path: Path) -> None:
    """Broker, pages and notices decide nothing and may hold secrets: they stay out."""
    private = house().model_copy(update={"notices": {"webhook": "https://example.org/secret"}})
    live(tmp_path, private, hours=0.5, tick_seconds=60.0)
    [stretch] = stretches(tmp_path, DAY)
    assert stretch.house.notices is None
    assert stretch.house.rooms == private.rooms


NUMBERS = st.floats(allow_nan=True, allow_infinity=True)
TIMES = st.none() | st.floats(0, 1e9)
AIRS = st.one_of(
    NUMBERS,
    st.builds(Reading, NUMBERS, TIMES),
    st.builds(Missing, st.text(max_size=20), TIMES, st.booleans()),
)
REPORTS = st.builds(
    PlugReport,
    on=st.none() | st.booleans(),
    watts=st.none() | NUMBERS,
    volts=st.none() | NUMBERS,
    on_at=TIMES,
    watts_at=TIMES,
    reachable=st.booleans(),
    warm_celsius=st.none() | NUMBERS,
    warm_at=TIMES,
    back_at=TIMES,
    opened_at=TIMES,
)
SEEN = st.builds(
    Observation,
    st.dictionaries(st.sampled_from(("study", "attic/x")), AIRS),
    st.none() | AIRS,
    st.dictionaries(st.sampled_from(("study/column", "p")), REPORTS),
    st.dictionaries(st.just("study"), NUMBERS),
    st.dictionaries(st.just("study"), NUMBERS),
    st.booleans(),
    st.just(()) | st.lists(NUMBERS | st.floats(-60, 60), max_size=5).map(tuple),
)


@given(st.lists(st.tuples(st.floats(0, 1e8), SEEN), max_size=5))
def test_what_is_kept_is_what_was_decided_upon(steps) -> None:
    """Whatever came in, rounding it once is enough: packed, written as JSON and unpacked it is the same."""
    given_steps = [rounded(Moment(START + timedelta(seconds=s % 1e6), s), seen) for s, seen in steps]
    plain = json.loads(json.dumps(packed_sheet(sheet_of(given_steps)), allow_nan=False))
    found = steps_of(unpacked_sheet(plain))
    again = [rounded(moment, seen) for moment, seen in found]
    assert found == again
    assert [moment for moment, _ in found] == [moment for moment, _ in given_steps]
    for (_, was), (_, now) in zip(given_steps, found, strict=True):
        assert {k: _plain(v) for k, v in was.air.items()} == {k: _plain(v) for k, v in now.air.items()}
        assert dict(was.plugs) == dict(now.plugs)
        assert (was.humidity_percent, was.battery_percent) == (now.humidity_percent, now.battery_percent)
        assert (was.stopping, was.forecast) == (now.stopping, now.forecast)


def _plain(value):
    return Reading(value) if isinstance(value, float) else value


@pytest.mark.parametrize(
    "request_",
    [
        Ask("study", 21.0, NEXT_STEP, "Ana", origin="phone"),
        Ask("study", 21.0, datetime(2026, 1, 12, 8, tzinfo=UTC)),
        RoomOff("study", NEXT_STEP, "Ana"),
        Ask("study", 21.0, NEXT_STEP, begins=datetime(2026, 1, 12, 8, tzinfo=UTC)),
        Cancel("study", begins=datetime(2026, 1, 12, 8, tzinfo=UTC)),
        WarmMe("bench", 20.0),
        Out(NO_END),
        AllOff("Bo"),
        Cancel(AllOff),
        Cancel("study"),
        Seen("x/y"),
    ],
    ids=repr,
)
def test_requests_come_back_as_they_were(request_) -> None:
    """A request is the same after its way through JSON."""
    assert request_of(json.loads(json.dumps(plain_request(request_)))) == request_
