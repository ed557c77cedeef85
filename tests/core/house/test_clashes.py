"""Statements that cannot hold together are refused, each at its key."""

import pytest

from tests.core.house.houses import COLUMN, HEATER, PANEL, PLUG, ROOM, SOUND, house
from thermostatd.core.house.clashes import clashes

OTHER = SOUND["room"][0] | {"heater": []}
UNTIMED = [((*COLUMN, "plug", "timer"), ...), ((*COLUMN, "may_run"), ["awake"])]
WRONG = {
    "a room named as another": ([(("room", 1), OTHER)], ("room", 1, "name")),
    "a room named as another but for its case": ([(("room", 1), OTHER | {"name": "Study"})], ("room", 1, "name")),
    "a spot named as a room": ([(("spot", 0, "name"), "study")], ("spot", 0, "name")),
    "two circuits of one name": (
        [(("circuit", 1), {"name": "north", "breaker_amps": 10})], ("circuit", 1, "name")),
    "two heaters of one name": (
        [((*ROOM, "heater", 1), HEATER | {"plug": PLUG | {"tell": "other", "shows": {"topic": "other/state"}}})],
        (*ROOM, "heater", 1, "name")),
    "a plug too weak for its heater": (
        [((*COLUMN, "watts"), 3700)], (*COLUMN, "plug", "rated_amps")),
    "a circuit not described": ([((*COLUMN, "circuit"), "nowhere")], (*COLUMN, "circuit")),
    "a spot's circuit not described": ([((*PANEL, "circuit"), "nowhere")], (*PANEL, "circuit")),
    "two plugs on one topic": ([((*PANEL, "plug", "tell"), "plug/1/set")], (*PANEL, "plug", "tell")),
    "a timer on another plug's topic": (
        [((*PANEL, "plug", "timer", "topic"), "plug/1/set")], (*PANEL, "plug", "timer", "topic")),
    "two plugs that show on one topic": (
        [((*PANEL, "plug", "shows"), {"topic": "plug/1", "pointer": "/on"})], (*PANEL, "plug", "shows", "topic")),
    "orders to where another plug shows": ([((*PANEL, "plug", "tell"), "plug/1")], (*PANEL, "plug", "tell")),
    "a timer to where another plug shows": (
        [((*PANEL, "plug", "timer"), {"payload": "true {seconds}", "topic": "plug/1"})],
        (*PANEL, "plug", "timer", "topic")),
    "orders to a topic of the program": (
        [((*PANEL, "plug", "tell"), "thermostatd/alive")], (*PANEL, "plug", "tell")),
    "a sensor on a topic of the program": (
        [((*ROOM, "sensor", "topic"), "thermostatd/room/study")], (*ROOM, "sensor", "topic")),
    "a meter on a topic of the program": (
        [((*PANEL, "plug", "draws"), {"topic": "thermostatd/heater/x"})], (*PANEL, "plug", "draws", "topic")),
    "the outdoor air from a topic of the program": (
        [(("house", "outdoor"), {"topic": "thermostatd/out"})], ("house", "outdoor", "topic")),
    "a usual step over household": ([((*ROOM, "usual", 0, "celsius"), 24)], (*ROOM, "usual", 0, "celsius")),
    "a usual step under household": ([((*ROOM, "usual", 0, "celsius"), 11)], (*ROOM, "usual", 0, "celsius")),
    "a usual step over the ceiling": ([((*ROOM, "usual", 0, "celsius"), 28)], (*ROOM, "usual", 0, "celsius")),
    "two steps at one time": (
        [((*ROOM, "usual", 1), {"days": "sun", "at": "07:30", "celsius": 19})], (*ROOM, "usual", 1)),
    "cold over the ceiling": ([((*ROOM, "cold_celsius"), 28)], (*ROOM, "cold_celsius")),
    "highest over the ceiling": ([((*ROOM, "household"), {"highest": 28})], (*ROOM, "household", "highest")),
    "frost over the ceiling": (
        [(("house", "frost_celsius"), 30)], (*ROOM, "ceiling_celsius")),
    "a spot's plug without a timer": ([((*PANEL, "plug", "timer"), ...)], (*PANEL, "plug", "timer")),
    "a spot's plug without a timer, accepted all the same": (
        [((*PANEL, "plug", "timer"), ...), ((*PANEL, "plug", "no_self_off"), "accepted")],
        (*PANEL, "plug", "timer")),
    "a plug without a timer": (UNTIMED, (*COLUMN, "plug", "timer")),
    "a plug without a timer while people sleep": (
        [UNTIMED[0], ((*COLUMN, "plug", "no_self_off"), "accepted")], (*COLUMN, "may_run")),
    "on and off alike": ([((*COLUMN, "plug", "on"), "false")], (*COLUMN, "plug", "off")),
    "an ON told over its own timer": (
        [((*COLUMN, "plug", "timer"), {"payload": "true {seconds}", "then_on": True})],
        (*COLUMN, "plug", "timer", "then_on")),
    "an ON told over its own timer on a topic spelled out": (
        [((*COLUMN, "plug", "timer"), {"payload": "true {seconds}", "topic": "plug/1/set", "then_on": True})],
        (*COLUMN, "plug", "timer", "then_on")),
    "no quiet hour": ([((*ROOM, "quiet"), [{"from": "22:00", "to": "22:00"}])], (*ROOM, "quiet", 0, "to")),
    "no asleep hour": ([(("house", "asleep"), {"from": "22:00", "to": "22:00"})], ("house", "asleep", "to")),
    "sustained over watts": ([((*COLUMN, "sustained_watts"), 700)], (*COLUMN, "sustained_watts")),
    "a tick past five minutes": ([(("house", "tick"), "6 min")], ("house", "tick")),
    "an embedded broker elsewhere": (
        [(("broker", "serve"), True), (("broker", "host"), "10.0.0.9")], ("broker", "host")),
    "half a client certificate": ([(("broker", "tls"), {"cert": "c"})], ("broker", "tls")),
    "no room and no spot": ([(("room",), []), (("spot",), [])], ("room",)),
}


def test_a_sound_house_has_no_clash():
    """What fits together is not refused."""
    assert clashes(house()) == ()


@pytest.mark.parametrize("name", WRONG)
def test_a_clash_is_named_at_its_key_with_a_mend(name):
    """Each contradiction gives exactly one clash, at the key to change."""
    changes, path = WRONG[name]
    (clash,) = clashes(house(*changes))
    assert clash.path == path
    assert clash.what
    assert clash.mend


def test_a_plug_without_a_timer_is_taken_on_the_owners_word_while_awake():
    """`no_self_off = "accepted"` with may_run awake alone is no clash."""
    assert clashes(house(*UNTIMED, ((*COLUMN, "plug", "no_self_off"), "accepted"))) == ()


def test_two_plugs_in_one_payload_are_no_clash():
    """A strip of sockets may tell each of them in one message, under pointers of their own."""
    shown = {"topic": "plug/1", "pointer": "/second"}
    assert clashes(house(((*PANEL, "plug", "shows"), shown))) == ()
    assert clashes(house(((*ROOM, "sensor", "topic"), "thermostatdoor/air"))) == ()


def test_one_time_on_other_days_is_no_clash():
    """Steps at one time on different days stand side by side."""
    steps = [{"days": "mon-fri", "at": "07:30", "celsius": 20}, {"days": "sat,sun", "at": "07:30", "celsius": 19}]
    assert clashes(house(((*ROOM, "usual"), steps))) == ()


def test_all_clashes_are_told_at_once():
    """A house with several contradictions hears of each."""
    found = clashes(house(((*ROOM, "cold_celsius"), 28), ((*COLUMN, "circuit"), "nowhere"), (("house", "tick"), "1 h")))
    assert {clash.path[-1] for clash in found} == {"cold_celsius", "circuit", "tick"}


def test_simulated_plugs_need_no_timer():
    """The rehearsal's own plugs switch themselves off."""
    assert clashes(house(((*COLUMN, "plug"), {"kind": "simulated"}))) == ()
