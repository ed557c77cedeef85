"""The dead-man's chain, on a real mosquitto: whatever dies, the plug ends in OFF.

Short lapses and keepalives stand for the quarter of an hour and the 10 s of real life.
"""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.edge.plugs.worlds import KEY, house_with
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug
from tests.parts.proxy import Proxy
from tests.parts.steady import Steady
from thermostatd.core.house import Broker
from thermostatd.core.values import PlugReport
from thermostatd.edge.broker_breaks import Breaks
from thermostatd.edge.embedded_broker import EmbeddedBroker
from thermostatd.edge.plugs import MqttPlug

ROOT = Path(__file__).resolve().parents[3]


@contextlib.contextmanager
def holder(port: int, keepalive_seconds: int, *more: str) -> Iterator[subprocess.Popen[str]]:
    """A process of its own that holds the plug ON."""
    command = [sys.executable, "-m", "tests.edge.plugs.holder", str(port), str(keepalive_seconds), *more]
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        assert process.stdout.readline() == "holding\n"
        yield process
    finally:
        process.kill()
        process.wait(5)
        if process.stdout:
            process.stdout.close()


@contextlib.contextmanager
def adapter(
    port: int, now: Steady, *, keepalive_seconds: int = 15, rest_seconds: float = 300.0, **described: object
) -> Iterator[MqttPlug]:
    """An adapter that is connected, stopped at the end."""
    plug = StrangersPlug.described(**described)  # type: ignore[arg-type]
    house = house_with(plug, Broker(port=port))
    breaks = Breaks(rest_seconds)
    made = MqttPlug(KEY, plug, house, now, keepalive_seconds=keepalive_seconds, breaks=breaks)
    made.start()
    try:
        assert wait_until(lambda: made.connected)
        yield made
    finally:
        made.stop()


def test_killed_daemon(mosquitto: Mosquitto) -> None:
    """kill -9 of the process that holds a plug ON: the broker tells it OFF within a second."""
    with StrangersPlug(mosquitto.port) as plug, holder(mosquitto.port, 15) as process:
        assert wait_until(lambda: plug.on)
        began = time.monotonic()
        process.kill()
        assert wait_until(lambda: not plug.on, 1.0), f"still on after {time.monotonic() - began:.1f} s"
        assert plug.orders[-1].payload == "false"
        assert not plug.orders[-1].retained


def test_killed_daemon_on_the_embedded_broker() -> None:
    """The embedded broker, too, tells OFF when the process is killed."""
    broker = EmbeddedBroker(port=0)
    broker.start()
    try:
        with StrangersPlug(broker.port, five=False) as plug, holder(broker.port, 15, "serve") as process:
            assert wait_until(lambda: plug.on)
            process.kill()
            assert wait_until(lambda: not plug.on, 2.0)
    finally:
        broker.stop()


def test_frozen_daemon(mosquitto: Mosquitto) -> None:
    """A process that is stopped in its tracks: the broker tells OFF after 1.5 keepalives (MQTT 5, 3.1.2.10).

    mosquitto 2.0.11 looks for silent clients only every 5 s (measured: OFF after 6 to 11 s with a keepalive of 4 s).
    """
    with StrangersPlug(mosquitto.port) as plug, holder(mosquitto.port, 4) as process:
        assert wait_until(lambda: plug.on)
        os.kill(process.pid, signal.SIGSTOP)
        try:
            began = time.monotonic()
            assert wait_until(lambda: not plug.on, 1.5 * 4 + 5 + 2), (
                f"on after {time.monotonic() - began:.1f} s"
            )
        finally:
            os.kill(process.pid, signal.SIGCONT)


def test_a_new_daemon_takes_over_from_a_frozen_one(mosquitto: Mosquitto, now: Steady) -> None:
    """The next daemon's orders stand: the frozen one's last will comes before them, not after."""
    with StrangersPlug(mosquitto.port) as plug, holder(mosquitto.port, 4) as process:
        assert wait_until(lambda: plug.on)
        os.kill(process.pid, signal.SIGSTOP)
        with adapter(mosquitto.port, now) as next_daemon:
            payloads = lambda: [order.payload for order in plug.orders]  # noqa: E731
            assert wait_until(lambda: payloads()[-2:] == ["false", "false"], 2), (
                "the will at once, then our own OFF"
            )
            next_daemon.tell(True, 900.0)
            assert wait_until(lambda: plug.on)
        process.kill()


def test_no_old_on_after_being_away(mosquitto: Mosquitto, now: Steady) -> None:
    """A plug that was away for longer than the lapse finds no ON waiting (3 s stand for an hour)."""
    with StrangersPlug(mosquitto.port, session_seconds=600) as plug, adapter(mosquitto.port, now) as ours:
        assert wait_until(lambda: bool(plug.orders))
        plug.offline()
        plug.orders.clear()
        ours.tell(True, 3.0)
        time.sleep(4.5)
        plug.online()
        time.sleep(0.5)
        assert [order for order in plug.orders if order.payload.startswith("true")] == []


def test_no_old_on_with_mqtt_3_1_1(mosquitto: Mosquitto, now: Steady) -> None:
    """Where messages cannot expire the ON goes at QoS 0, so nothing of it waits for a plug that is away."""
    described = StrangersPlug.described()
    house = house_with(described, Broker(port=mosquitto.port, serve=True))  # spoken to in 3.1.1
    with StrangersPlug(mosquitto.port, session_seconds=600) as plug:
        ours = MqttPlug(KEY, described, house, now)
        ours.start()
        assert wait_until(lambda: bool(plug.orders))
        ours.tell(True, 900.0)
        assert wait_until(lambda: plug.on)
        assert plug.orders[-1].qos == 0
        plug.offline()
        plug.orders.clear()
        ours.tell(True, 900.0)
        ours.stop()
        plug.online()
        assert wait_until(lambda: bool(plug.orders))
        assert [order.payload for order in plug.orders] == ["false"]


def test_an_on_that_still_holds_is_found(mosquitto: Mosquitto, now: Steady) -> None:
    """Back within the lapse the same plug finds the ON, with what is left of its life: the queue does work."""
    with StrangersPlug(mosquitto.port, session_seconds=600) as plug, adapter(mosquitto.port, now) as ours:
        assert wait_until(lambda: bool(plug.orders))
        plug.acknowledge()
        plug.offline()
        plug.orders.clear()
        ours.tell(True, 60.0)
        time.sleep(2.2)
        plug.online()
        assert wait_until(lambda: bool(plug.orders))
        assert plug.orders[0].payload == "true 60"
        assert plug.orders[0].qos == 1
        assert plug.orders[0].expiry is not None
        assert plug.orders[0].expiry <= 58


def test_orders_are_never_retained(mosquitto: Mosquitto, now: Steady) -> None:
    """Who subscribes later finds neither ON nor OFF waiting, also not the will."""
    with adapter(mosquitto.port, now) as ours:
        ours.tell(True, 60.0)
    with holder(mosquitto.port, 15) as process:
        process.kill()
        process.wait()
    time.sleep(0.3)
    with mosquitto.listening("plug/7/set") as late:
        time.sleep(0.5)
        assert late.heard() == []


def test_broker_cut_and_the_timer_ends_it(mosquitto: Mosquitto, now: Steady) -> None:
    """The broker dies for good: the plug was told its seconds and ends by itself."""
    with StrangersPlug(mosquitto.port) as plug, adapter(mosquitto.port, now) as ours:
        ours.tell(True, 3.0)
        assert wait_until(lambda: plug.on)
        assert plug.orders[-1].payload == "true 3"
        mosquitto.kill()
        assert plug.on
        assert wait_until(lambda: not plug.on, 4)


def test_restart_tells_off_and_then_only_what_is_ordered_anew(mosquitto: Mosquitto, now: Steady) -> None:
    """After a restart of the broker an ON that still holds is not told again: the report says that it was opened, and
    before that is read no ON goes out."""
    with mosquitto.listening() as heard, adapter(mosquitto.port, now) as ours:
        ours.tell(True, 900.0)
        assert heard.wait("plug/7/set", "true 900")
        ours.news()
        mosquitto.kill()
        assert wait_until(lambda: not ours.connected, 3)
        mosquitto.start()
        with StrangersPlug(mosquitto.port) as plug:
            assert wait_until(lambda: ours.connected and bool(plug.orders), 10)
            ours.tell(True, 900.0)  # by who has not yet heard of the opening
            time.sleep(1.5)
            assert {order.payload for order in plug.orders} == {"false"}
            report = ours.news()
            assert report is not None
            assert report.opened_at is not None
            assert now() - report.opened_at < 5
            ours.tell(True, 600.0)
            assert wait_until(lambda: plug.on)
            assert plug.orders[-1].payload == "true 600"
            assert plug.orders[-1].expiry == 600


def test_an_off_that_held_is_no_opening(mosquitto: Mosquitto, now: Steady) -> None:
    """A plug that was OFF when the way to it was lost was not opened by that."""
    with adapter(mosquitto.port, now) as ours, StrangersPlug(mosquitto.port) as plug:
        ours.tell(False, 900.0)
        mosquitto.kill()
        assert wait_until(lambda: not ours.connected, 3)
        mosquitto.start()
        assert wait_until(lambda: ours.connected, 10)
        plug.offline()
        plug.online()
        plug.tell_state()
        reports: list[PlugReport] = []

        def has_spoken() -> bool:  # the connection itself is news before the plug says anything
            reports.extend([news] if (news := ours.news()) else [])
            return any(report.on is not None for report in reports)

        assert wait_until(has_spoken)
        assert (reports[-1].on, {report.opened_at for report in reports}) == (False, {None})


def test_restart_retells_off(mosquitto: Mosquitto, now: Steady) -> None:
    """What was ordered while the broker was away is told as it holds now, and an ON past its lapse is OFF."""
    with adapter(mosquitto.port, now) as ours:
        ours.tell(True, 900.0)
        mosquitto.kill()
        assert wait_until(lambda: not ours.connected, 3)
        ours.tell(False, 0.0)
        ours.tell(True, 60.0)
        now.pass_by(61.0)
        mosquitto.start()
        with StrangersPlug(mosquitto.port) as plug:
            assert wait_until(lambda: bool(plug.orders), 10)
            time.sleep(0.3)
            assert [order.payload for order in plug.orders] == ["false"]


def test_frozen_broker_is_noticed(mosquitto: Mosquitto, now: Steady) -> None:
    """A frozen broker counts as gone within two keepalives; an order given then is told when it thaws."""
    with StrangersPlug(mosquitto.port) as plug, adapter(mosquitto.port, now, keepalive_seconds=2) as ours:
        ours.tell(True, 900.0)
        assert wait_until(lambda: plug.on)
        mosquitto.freeze()
        began = time.monotonic()
        assert wait_until(lambda: not ours.connected, 8)
        assert time.monotonic() - began <= 2 * 2 + 1.5
        assert ours.trouble is not None
        ours.tell(False, 0.0)
        mosquitto.thaw()
        assert wait_until(lambda: not plug.on, 10)


def test_no_order_of_a_cut_link_comes_later(mosquitto: Mosquitto, now: Steady) -> None:
    """ON, OFF and ON into a hanging link that is then cut: only what holds after the reconnect arrives."""
    with (
        Proxy(mosquitto.port) as proxy,
        StrangersPlug(mosquitto.port) as plug,
        adapter(proxy.port, now) as ours,
    ):
        assert wait_until(lambda: bool(plug.orders))
        proxy.hang()
        for on in (True, False, True, False):
            ours.tell(on, 900.0)
        plug.orders.clear()
        proxy.reset()
        proxy.resume()
        assert wait_until(lambda: len(plug.orders) >= 2, 10)  # the will's OFF, then ours
        time.sleep(0.5)
        assert {order.payload for order in plug.orders} == {"false"}


@pytest.mark.parametrize("delay_seconds", [0.0, 0.2])
def test_flapping_link(mosquitto: Mosquitto, now: Steady, delay_seconds: float) -> None:
    """A link that is cut again and again: one switching, to OFF; after the third break it rests, and says why."""
    with (
        Proxy(mosquitto.port) as proxy,
        StrangersPlug(mosquitto.port) as plug,
        adapter(proxy.port, now, rest_seconds=4.0) as ours,
    ):
        proxy.delay_seconds = delay_seconds
        ours.tell(True, 900.0)
        assert wait_until(lambda: plug.on, 10)
        began = len(plug.orders)
        for breaks in range(3):
            assert wait_until(lambda: ours.connected, 10)
            assert ours.breaks is None, f"after {breaks} breaks"
            time.sleep(1.0)
            proxy.reset()
            assert wait_until(lambda: not plug.on, 3)
            assert wait_until(lambda: not ours.connected, 3)
        assert ours.breaks == "link-breaks"
        assert not wait_until(lambda: ours.connected, 3.0), "it rests"
        assert {order.payload for order in plug.orders[began:]} == {"false"}
        assert wait_until(lambda: ours.connected, 4.0)
        ours.news()
        ours.tell(True, 900.0)
        assert wait_until(lambda: plug.on, 5), "and then may be told ON again"
        assert wait_until(lambda: ours.breaks is None, 10), "once it has stood for longer than it rested"
        ours.tell(False, 0.0)
        assert wait_until(lambda: not plug.on, 5)


def test_an_on_nobody_renews_is_ended_by_the_adapter(mosquitto: Mosquitto, now: Steady) -> None:
    """A plug without a timer gets its OFF at the lapse, even if no tick comes any more."""
    with StrangersPlug(mosquitto.port) as plug, adapter(mosquitto.port, now, timer=None) as ours:
        ours.tell(True, 900.0)
        assert wait_until(lambda: plug.on)
        assert plug.orders[-1].payload == "true"
        assert plug.orders[-1].expiry in (899, 900)
        now.pass_by(901.0)
        assert wait_until(lambda: not plug.on, 3)


def test_stop_waits_until_off_has_left(mosquitto: Mosquitto, now: Steady) -> None:
    """A clean stop leaves OFF in the broker before the connection closes, in less than two seconds."""
    with StrangersPlug(mosquitto.port) as plug:
        with adapter(mosquitto.port, now) as ours:
            ours.tell(True, 900.0)
            assert wait_until(lambda: plug.on)
            began = time.monotonic()
        assert time.monotonic() - began < 2.0
        assert wait_until(lambda: not plug.on, 1)


def test_stop_with_a_frozen_broker_is_brief(mosquitto: Mosquitto, now: Steady) -> None:
    """A broker that does not answer holds a stop up by a few seconds at most."""
    with adapter(mosquitto.port, now) as ours:
        mosquitto.freeze()
        began = time.monotonic()
        ours.stop()
        assert time.monotonic() - began < 6.5
        mosquitto.thaw()
