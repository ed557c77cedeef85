"""The dead-man's chain, link by link: what ends the heat when everything before it is gone, and what nothing ends.

Rules: a plug's own timer runs a hundred times as fast where that is said; what the guide promises stands in bounds.py.
"""

from __future__ import annotations

import os
import re
import signal
import time
from pathlib import Path

import pytest

from tests.daemon.home import Home
from tests.faults.bounds import CHAIN
from tests.faults.conftest import Measure, warm_up
from tests.faults.test_broker import Impatient
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug

GUIDE = Path(__file__).parents[2] / "web" / "help" / "dead-man.md"
TIMER = 'timer = { payload = "true {seconds}" },'


def without_timer(home: Home) -> None:
    """The owner's word for a plug that does not end an ON by itself."""
    text = home.file.read_text()
    assert TIMER in text
    home.file.write_text(text.replace(TIMER, 'no_self_off = "accepted",'))


def end(home: Home, number: int) -> None:
    assert home.process
    os.kill(home.process.pid, number)


def test_the_brokers_last_word_alone(
    tmp_path: Path, broker: Mosquitto, plug: StrangersPlug, measure: Measure
) -> None:
    """Without a timer in the plug, a killed program is followed by the broker's OFF."""
    home = Home(tmp_path / "home", broker.port)
    without_timer(home)
    with home:
        warm_up(broker, plug)
        assert plug.orders[-1].payload == "true"
        home.kill()
        measure(
            9,
            "chain: killed, plug without timer: OFF by the last word",
            CHAIN["the program crashes"],
            lambda: not plug.on,
        )


@pytest.mark.night  # half a minute of waiting for a keepalive
def test_a_frozen_process(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug, measure: Measure) -> None:
    """A process that stands still holds its connections open; the broker finds out by its keepalive and says OFF."""
    with Home(tmp_path / "home", broker.port) as home:
        warm_up(broker, plug)
        end(home, signal.SIGSTOP)
        bound = CHAIN["the whole process freezes"]
        measure(10, "chain: process frozen: OFF by the last word", bound, lambda: not plug.on)
        end(home, signal.SIGCONT)
        broker.publish("study/air", "17.0")
        measure(10, "chain: process thawed: heats again", 35.0, lambda: plug.on)


@pytest.mark.night
def test_the_plugs_timer_alone(tmp_path: Path, broker: Mosquitto, measure: Measure) -> None:
    """Program and broker killed at once leave the plug's own timer, and it is enough."""
    with Impatient(broker.port) as hasty, Home(tmp_path / "home", broker.port) as home:
        warm_up(broker, hasty)
        told = float(hasty.orders[-1].payload.split()[1])
        assert told <= CHAIN["broker and machine die together"]
        broker.kill()  # first, or it would still say the last word
        home.kill()
        bound = CHAIN["broker and machine die together"] / 100 + 1
        measure(
            9,
            "chain: program and broker killed: OFF by the timer (1/100 scale)",
            bound,
            lambda: not hasty.on,
        )


@pytest.mark.night
def test_a_plug_that_lost_its_network(tmp_path: Path, broker: Mosquitto, measure: Measure) -> None:
    """A plug that hears nothing any more ends by its own timer, and its circuit counts it as on meanwhile."""
    with Impatient(broker.port) as hasty, Home(tmp_path / "home", broker.port) as home:
        warm_up(broker, hasty)
        hasty.offline()
        bound = CHAIN["the plug loses its network"] / 100 + 1
        measure(4, "chain: plug without network: OFF by its timer (1/100 scale)", bound, lambda: not hasty.on)
        assert home.health().get("ok") is True
        hasty.online()


@pytest.mark.night
def test_a_stop(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug, measure: Measure) -> None:
    """SIGTERM tells OFF before anything is closed."""
    with Home(tmp_path / "home", broker.port) as home:
        warm_up(broker, plug)
        end(home, signal.SIGTERM)
        measure(9, "chain: stopped: OFF", CHAIN["the program is stopped"], lambda: not plug.on)
        assert home.process
        assert home.process.wait(10) == 0
        home.process = None


@pytest.mark.night
def test_what_nothing_covers(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """A plug without a timer stays ON when program and broker die together: the guide says so, and this shows it."""
    home = Home(tmp_path / "home", broker.port)
    without_timer(home)
    with home:
        warm_up(broker, plug)
        broker.kill()  # first, or it would still say the last word
        home.kill()
        time.sleep(5.0)
        assert plug.on, "if this goes off, the guide promises too little"
    assert "A plug without a timer" in GUIDE.read_text()


@pytest.mark.night  # a meter is believed only after its reporting period was learned
@pytest.mark.timeout(900)
def test_welded_contacts_are_told(
    tmp_path: Path, broker: Mosquitto, plug: StrangersPlug, measure: Measure
) -> None:
    """Nothing here opens a welded contact; people are told to pull the plug, and OFF is told again and again."""
    with Home(tmp_path / "home", broker.port) as home:
        warm_up(broker, plug)
        for _ in range(10):
            plug.tell_state()
            time.sleep(1.0)
        plug.deaf = True
        broker.publish("study/air", "23.0")

        def told() -> bool:
            plug.tell_state()
            time.sleep(1.0)
            return any(
                one["loud"] and "pull" in one["what_to_do"].lower() for one in home.house()["troubles"]
            )

        measure(4, "chain: contacts welded: a person is told to pull the plug", 420.0, told)
        assert plug.on, "no order opens it"
        before = len(plug.orders)
        assert wait_until(lambda: len(plug.orders) > before, 40), "OFF is told again"


def promised() -> dict[str, tuple[str, float, float | None]]:
    """The guide's table: what fails -> (what ends the heat, within seconds, measured seconds)."""
    rows = re.findall(
        r"^\| ([^|]+) \| ([^|]+) \| ([\d.]+) (s|min) \| ([^|]+) \|$", GUIDE.read_text(), re.MULTILINE
    )
    found = {}
    for fails, ends, number, unit, told in rows:
        measured = re.match(r"([\d.]+) s", told.strip())
        found[fails.strip()] = (
            ends,
            float(number) * (60 if unit == "min" else 1),
            float(measured[1]) if measured else None,
        )
    return found


def test_the_guide_says_what_is_measured() -> None:
    """Each promise of the guide is the bound that a test holds, and nothing that was measured is over it."""
    table = promised()
    assert {fails: bound for fails, (_, bound, _) in table.items()} == CHAIN
    for fails, (_, bound, measured) in table.items():
        assert measured is None or measured <= bound, fails
