"""What is said of each clash and caution, word by word, and the very edges at which it is said.

The words stand in remarks.txt beside this file, one remark a line: case, key path, what, mend. To look through what
changed: python -m tests.core.house.test_words
"""
# ruff: noqa: E501  (a case a line)

from pathlib import Path

from tests.core.house import test_cautions, test_clashes
from tests.core.house.houses import COLUMN, HEATER, PANEL, PLUG, ROOM, SOUND, house
from thermostatd.core.house.cautions import cautions
from thermostatd.core.house.clashes import clashes

WORDS = Path(__file__).with_name("remarks.txt")
SAFE = {"rated_amps": 16, "power_on": "off"}
HTTP = SAFE | {"kind": "http", "on": {"url": "http://10.0.0.7/1"}, "off": {"url": "http://10.0.0.7/0"},
               "timer": {"url": "http://10.0.0.7/1?for={seconds}"}}  # fmt: skip
PROGRAM = SAFE | {"kind": "program", "on": ["/usr/local/bin/relay", "1"], "off": ["/usr/local/bin/relay", "0"],
                  "timer": ["/usr/local/bin/relay", "1", "{seconds}"]}  # fmt: skip
HOMIE = SAFE | {"kind": "homie", "device": "p", "switch": "relay/on", "timer": "relay/seconds"}
SECOND = HEATER | {"name": "flat", "plug": PLUG | {"tell": "plug/3/set", "shows": {"topic": "plug/3"}}}
TWO_COLD = [{"at": "06:00", "celsius": 17}, {"at": "22:00", "celsius": 16.5}]
SPOT_TIME = {"at": "07:00", "minutes": 40}
MORE = {
    "asleep all day": [(("house", "asleep"), {"from": "06:00", "to": "06:00"})],
    "three rooms of one name": [
        (("room", 1), SOUND["room"][0] | {"heater": []}), (("room", 2), SOUND["room"][0] | {"heater": []})],
    "a key without a certificate": [(("broker", "tls"), {"key": "k"})],
    "no circuit at all": [(("circuit",), [])],
    "two circuits": [(("circuit", 1), {"name": "south", "breaker_amps": 16}), ((*COLUMN, "circuit"), "west")],
    "a spot that starts unasked without a word": [(("spot", 0, "usual"), [SPOT_TIME])],
    "a spot's time past its longest": [
        (("spot", 0, "unasked"), "accepted"), (("spot", 0, "usual"), [SPOT_TIME, SPOT_TIME | {"minutes": 90.5}])],
    "a plug of one word": [((*COLUMN, "plug", "shows"), {"topic": "p", "on": "x", "off": "x"})],
    "a plug of one word by half": [((*COLUMN, "plug", "shows"), {"topic": "p", "on": "false"})],
    "another timer's topic twice": [
        ((*COLUMN, "plug", "timer"), {"payload": "1 {seconds}", "topic": "t"}),
        ((*PANEL, "plug", "timer"), {"payload": "1 {seconds}", "topic": "t"})],
    "a third plug on the first one's topic": [
        ((*PANEL, "plug", "tell"), "plug/1/set"), ((*ROOM, "heater", 1), SECOND | {"plug": PLUG})],
    "a plug that is not timed, asleep and away": [
        ((*COLUMN, "plug", "timer"), ...), ((*COLUMN, "plug", "no_self_off"), "accepted")],
    "two steps of three at one time": [
        ((*ROOM, "usual"), [{"at": "06:00", "celsius": 20}, {"days": "mon", "at": "07:30", "celsius": 19},
                            {"days": "sun,mon", "at": "07:30", "celsius": 18}])],
    "cold steps and a cold lowest": [((*ROOM, "usual"), TWO_COLD), ((*ROOM, "household"), {"lowest": 15})],
    "two sensors on one topic": [
        (("room", 1), {"name": "den", "sensors": [{"topic": "study/air"}, {"topic": "den/air", "stale_after": "61 min"}]})],
    "a spot that starts unasked": [
        (("spot", 0, "unasked"), "accepted"), (("spot", 0, "usual"), [SPOT_TIME]), (("spot", 0, "metres"), 0.9)],
    "a heater that never runs": [((*COLUMN, "may_run"), [])],
    "a plug over http": [((*COLUMN, "plug"), HTTP)],
    "a plug over http of one request": [((*COLUMN, "plug"), HTTP | {"off": HTTP["on"]})],
    "a plug by a program": [((*COLUMN, "plug"), PROGRAM)],
    "a plug by a program of one call": [((*COLUMN, "plug"), PROGRAM | {"off": PROGRAM["on"]})],
    "a homie plug": [((*COLUMN, "plug"), HOMIE)],
    "a homie plug with a meter": [((*COLUMN, "plug"), HOMIE | {"power": "relay/power"})],
    "two homie plugs of one device": [((*COLUMN, "plug"), HOMIE), ((*PANEL, "plug"), HOMIE)],
    "a simulated plug": [((*COLUMN, "plug"), SAFE | {"kind": "simulated"})],
    "steps held over the night": [
        ((*COLUMN, "may_run"), ["awake", "away"]),
        ((*ROOM, "usual"), [{"at": "07:30", "celsius": 20}, {"at": "23:30", "celsius": 19}, {"at": "03:00", "celsius": 18}])],
    "three heaters over one share": [
        (("circuit", 0, "breaker_amps"), 10), ((*COLUMN, "watts"), 1500), ((*ROOM, "heater", 1), SECOND)],
    "a tick of a second": [(("house", "tick"), "1 s")],
    "a tick of less": [(("house", "tick"), "0.9 s")],
    "a tick of five minutes": [(("house", "tick"), "5 min")],
    "a tick of more": [(("house", "tick"), "301 s")],
    "limits at the ceiling": [
        ((*ROOM, "ceiling_celsius"), 23), ((*ROOM, "cold_celsius"), 23), (("house", "frost_celsius"), 23),
        ((*ROOM, "usual", 0, "celsius"), 23)],
    "a usual step at the lowest": [((*ROOM, "household"), {"lowest": 20})],
    "a usual step under the lowest": [((*ROOM, "household"), {"lowest": 20.1})],
    "a spot's time of its longest": [
        (("spot", 0, "unasked"), "accepted"), (("spot", 0, "usual"), [SPOT_TIME | {"minutes": 90}])],
    "a spot at a metre": [(("spot", 0, "metres"), 1.0)],
    "sustained at its watts": [((*COLUMN, "sustained_watts"), 600)],
    "an embedded broker by another name": [(("broker", "serve"), True), (("broker", "host"), "127.0.0.9")],
    "an embedded broker on localhost": [(("broker", "serve"), True), (("broker", "host"), "localhost")],
    "an embedded broker on ::1": [(("broker", "serve"), True), (("broker", "host"), "::1")],
    "a whole client certificate": [(("broker", "tls"), {"cert": "c", "key": "k"})],
    "pages open on this machine": [(("pages", "open"), True), (("pages", "listen"), "127.0.0.1:8420")],
    "pages open on this machine by IPv6": [(("pages", "open"), True), (("pages", "listen"), "[::1]:8420")],
    "pages open on this machine by name": [(("pages", "open"), True), (("pages", "listen"), "localhost:8420")],
    "a password on this machine": [(("broker", "password_file"), "p")],
    "a password over tls": [
        (("broker", "password_file"), "p"), (("broker", "host"), "10.0.0.9"), (("broker", "tls"), {"ca": "c"})],
    "a lowest of 18": [((*ROOM, "household"), {"lowest": 18})],
    "a lowest that nobody wrote": [((*ROOM, "household"), {"highest": 22})],
    "a cycle of the minimum times": [((*ROOM, "control"), "proportional"), ((*ROOM, "cycle"), "10 min")],
    "a short cycle of another law": [((*ROOM, "cycle"), "9 min")],
    "the longest minimum times of two heaters": [
        ((*ROOM, "control"), "proportional"), ((*ROOM, "heater", 1), SECOND | {"min_on": "30 min", "min_off": "7 min"})],
    "a reading of an hour": [((*ROOM, "sensor", "stale_after"), "60 min")],
    "one topic with two pointers": [
        ((*ROOM, "sensor"), ...), ((*ROOM, "sensors"), [{"topic": "a", "pointer": "/1"}, {"topic": "a", "pointer": "/2"}])],
    "a selector on one of its settings": [((*COLUMN, "settings_watts"), [400, 600])],
    "a plug that is just strong enough": [
        (("house", "mains_tolerance"), 0), ((*COLUMN, "watts"), 2300), ((*COLUMN, "plug", "rated_amps"), 10)],
    "ten amperes on 13 A": [
        (("house", "mains_tolerance"), 0), ((*COLUMN, "watts"), 2300), ((*COLUMN, "plug", "rated_amps"), 13)],
    "a little more on 13 A": [
        (("house", "mains_tolerance"), 0), ((*COLUMN, "watts"), 2301), ((*COLUMN, "plug", "rated_amps"), 13)],
    "a little more on 14 A": [
        (("house", "mains_tolerance"), 0), ((*COLUMN, "watts"), 2301), ((*COLUMN, "plug", "rated_amps"), 14)],
    "one heater of all its circuit's share": [(("house", "mains_tolerance"), 0), ((*COLUMN, "watts"), 2944), (("spot",), [])],
    "one heater of a little more": [(("house", "mains_tolerance"), 0), ((*COLUMN, "watts"), 2945), (("spot",), [])],
    "two heaters of all their circuit's share": [(("house", "mains_tolerance"), 0), ((*COLUMN, "watts"), 2044)],
    "two heaters of a little more": [(("house", "mains_tolerance"), 0), ((*COLUMN, "watts"), 2045)],
    "two circuits that carry theirs": [
        (("circuit", 1), {"name": "south", "breaker_amps": 16}), ((*PANEL, "circuit"), "south"), ((*COLUMN, "watts"), 2200)],
    "no frost to keep out": [(("house", "frost_celsius"), 0), ((*COLUMN, "may_run"), ["awake", "asleep"])],
    "a spot alone that sleeps unsaid": [(("room",), []), (("house", "asleep"), ...)],
    "no heater that sleeps unsaid": [((*ROOM, "heater"), []), (("spot",), []), (("house", "asleep"), ...)],
    "a week at the frost floor": [((*COLUMN, "may_run"), ["awake", "away"]), (("house", "frost_celsius"), 20)],
    "a step at the minute of sleep": [
        ((*COLUMN, "may_run"), ["awake", "away"]),
        ((*ROOM, "usual"), [{"at": "07:30", "celsius": 20}, {"at": "23:00", "celsius": 19}])],
    "a step at the minute of waking": [
        ((*COLUMN, "may_run"), ["awake", "away"]), (("house", "frost_celsius"), 12),
        ((*ROOM, "usual"), [{"at": "06:30", "celsius": 20}, {"at": "22:00", "celsius": 12}])],
    "a step a minute before waking": [
        ((*COLUMN, "may_run"), ["awake", "away"]), (("house", "frost_celsius"), 12),
        ((*ROOM, "usual"), [{"at": "06:29", "celsius": 20}, {"at": "22:00", "celsius": 12}])],
    "a step a minute into sleep": [
        ((*COLUMN, "may_run"), ["awake", "away"]), (("house", "frost_celsius"), 12),
        ((*ROOM, "usual"), [{"at": "23:01", "celsius": 20}, {"at": "22:00", "celsius": 12}])],
    "a step of one night in the week": [
        ((*COLUMN, "may_run"), ["awake", "away"]), (("house", "frost_celsius"), 12),
        ((*ROOM, "usual"), [{"days": "sat", "at": "23:30", "celsius": 20}, {"at": "22:00", "celsius": 12}])],
    "a night of Sunday over the week's end": [
        ((*COLUMN, "may_run"), ["awake", "away"]), (("house", "frost_celsius"), 12),
        ((*ROOM, "usual"), [{"days": "mon", "at": "05:00", "celsius": 20}, {"at": "22:00", "celsius": 12}])],
    "a step that holds all week": [
        ((*COLUMN, "may_run"), ["awake", "away"]), ((*ROOM, "usual"), [{"days": "wed", "at": "10:00", "celsius": 20}])],
    "sleep that begins after midnight": [
        ((*COLUMN, "may_run"), ["awake", "away"]), (("house", "asleep"), {"from": "00:30", "to": "06:30"}),
        (("house", "frost_celsius"), 12),
        ((*ROOM, "usual"), [{"at": "00:00", "celsius": 20}, {"at": "00:30", "celsius": 12}])],
    "a preheat of three hours": [
        ((*COLUMN, "may_run"), ["awake", "away"]), ((*ROOM, "control"), "predictive"), ((*ROOM, "usual", 0, "at"), "09:29")],
    "a preheat of more than three hours": [
        ((*COLUMN, "may_run"), ["awake", "away"]), ((*ROOM, "control"), "predictive"), ((*ROOM, "usual", 0, "at"), "09:30")],
    "a preheat for the moment of waking": [
        ((*COLUMN, "may_run"), ["awake", "away"]), ((*ROOM, "control"), "predictive"), ((*ROOM, "usual", 0, "at"), "06:30")],
    "a preheat for the warmest step alone": [
        ((*COLUMN, "may_run"), ["awake", "away"]), ((*ROOM, "control"), "predictive"),
        ((*ROOM, "usual"), [{"at": "07:00", "celsius": 19}, {"at": "08:00", "celsius": 20}, {"at": "09:00", "celsius": 20}])],
}  # fmt: skip


def told(changes):
    """The remarks of a house, as they stand in the file."""
    found = house(*changes)
    return [
        f"{'.'.join(map(str, one.path))} | {one.what} | {one.mend}"
        for one in (*clashes(found), *cautions(found))
    ]


def every_case():
    """Each circumstance of the tests beside this one, and more."""
    cases = {
        name: changes for name, (changes, _) in (test_clashes.WRONG | test_cautions.GIVEN).items()
    } | MORE
    return [f"{name} | {line}" for name, changes in cases.items() for line in told(changes) or ["nothing"]]


def test_each_remark_is_said_in_these_words():
    """Where, what, and how to mend it."""
    assert every_case() == WORDS.read_text().splitlines()


if __name__ == "__main__":
    WORDS.write_text("\n".join(every_case()) + "\n")
