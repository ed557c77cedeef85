"""Whatever happens to a random house, the rules that hold always hold at every step."""

import copy
import json
from datetime import UTC, datetime
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, rule

from tests.core import worlds
from tests.stories.always import hold
from thermostatd.core import guard
from thermostatd.core.asking import NO_END, Accepted, AllOff, Ask, Cancel, Out, Refused, WarmMe
from thermostatd.core.guard import LATCHES, pacing
from thermostatd.core.reasons import SENTENCES
from thermostatd.core.regulator import Regulator
from thermostatd.core.remembering import awaken, from_plain
from thermostatd.core.values import Moment, Observation, PlugReport, is_finite

START = datetime(2026, 1, 12, 18, 0, tzinfo=UTC).timestamp()
FREE_OF_PACE = frozenset({"by-hand", "spot-on", "spot-off", "no-air", "demand-failed"})
FEWEST_STEPS = 20_000  # of CI's profile; what was run is printed


class HouseMachine(RuleBasedStateMachine):
    """One house, its plugs obeying unless a report says otherwise, and a twin that is made from memory."""

    steps = 0

    @initialize(house=worlds.houses())
    def begin(self, house):
        self.house = house
        self.regulator = Regulator(house)
        self.steady, self.offset = 1000.0, START - 1000.0
        self.result = None
        self.on = {key: False for key, _, _ in house.heaters()}
        self.before = dict(self.on)
        self.changed = dict.fromkeys(self.on)
        self.lapses = dict.fromkeys(self.on)
        self.seen_since = set()
        self.latched = set()

    @property
    def moment(self):
        return Moment(datetime.fromtimestamp(self.steady + self.offset, UTC), self.steady)

    def _step(self, seen, seconds, twin=True):
        type(self).steps += 1
        self.steady += seconds
        plain = json.loads(json.dumps(self.regulator.memory)) if twin else None
        result = self.result = self.regulator.step(self.moment, seen)
        if twin:
            self._hold_twin(plain, seen, result)
        hold(self.house, self.regulator, result, self.steady)
        self._hold_minimum_times(result)
        self._hold_longest_runs(result)
        self._hold_lapses(result)
        self._hold_latches(result)
        self.on = {key: order.on for key, order in result.orders.items()}

    def _hold_twin(self, plain, seen, result):
        twin = Regulator(self.house, memory=plain)
        again = twin.step(self.moment, copy.deepcopy(seen))
        assert result.orders == again.orders, "the same memory and inputs give the same orders"
        kept = json.dumps(self.regulator.memory)
        again_kept = json.loads(json.dumps(twin.memory))
        assert json.loads(kept) == again_kept, self._difference("", json.loads(kept), again_kept)
        self._hold_size(len(kept))

    def _difference(self, where, one, other):
        """The first part of two memories that is not the same."""
        if isinstance(one, dict) and isinstance(other, dict):
            for name in sorted(one.keys() | other.keys()):
                if one.get(name) != other.get(name):
                    return self._difference(f"{where}/{name}", one.get(name), other.get(name))
        return f"{where}: {one} is not {other}"

    def _hold_size(self, size):
        """Under 4 kB a room, or a spot."""
        places = len(self.house.rooms) + len(self.house.spots)
        heaters = sum(1 for _ in self.house.heaters())
        assert size < 4096 * max(1, places) + 2048 * max(0, heaters - places), size

    def _hold_longest_runs(self, result):
        """By this machine's own record of when each run began."""
        for key, heater, _ in self.house.heaters():
            if result.orders[key].on:
                ran = self.steady - self.changed[key]
                assert ran < heater.longest_run, f"{key} is past its longest run"

    def _hold_lapses(self, result):
        """An ON holds for as long as the plug was last told, and for no longer: each renewal is told."""
        for key, order in result.orders.items():
            if order.on:
                assert order.retell or order.lapses == self.lapses[key], (
                    f"{key}: a lapse that nobody told the plug"
                )
            self.lapses[key] = order.lapses if order.on else None

    def _hold_minimum_times(self, result):
        for key, heater, place in self.house.heaters():
            order = result.orders[key]
            passage = result.rooms[place.name].heaters[key] if place.name in result.rooms else None
            if order.on == self.before[key]:
                continue
            since, self.changed[key] = self.changed[key], self.steady
            self.before[key] = order.on
            if passage is None or since is None or passage.by_hand:
                continue
            held = self.steady - since
            if order.on:
                assert held >= heater.min_off - 1e-6, f"{key} rested {held:.0f} s"
            else:
                safe = any(verdict.tripped and verdict.safety for verdict in passage.verdicts)
                free = safe or order.reason.code in FREE_OF_PACE or self._never_fits(key, heater, order)
                assert free or held >= heater.min_on - 1e-6, f"{key} ran {held:.0f} s"

    def _never_fits(self, key, heater, order):
        """Pacing may cut a shortest run where not even one from a cold body would stay under its cut-out."""
        kept, room = self.regulator._memory.heaters[key], self.result.rooms[key.partition("/")[0]]
        case = SimpleNamespace(kept=kept, heater=heater, air=room.air, house=self.house)
        return order.reason.code == "pacing" and not pacing._fits_from_cold(case, kept.body)

    def _hold_latches(self, result):
        now = set()
        passages = [(key, heater) for room in result.rooms.values() for key, heater in room.heaters.items()]
        passages += [(spot.key, result.spots[spot.name].heater) for spot in self.house.spots]
        for key, passage in passages:
            now |= {
                f"{key}/{v.code}" for v in passage.verdicts if v.code in LATCHES and v.latched and v.tripped
            }
        assert self.latched - now <= self.seen_since, "a latch opened without Seen"
        assert now <= {trouble.id for trouble in result.troubles}
        self.latched, self.seen_since = now, set()

    @rule(data=st.data(), seconds=st.sampled_from((0.0, 10.0, 10.0, 10.0, 60.0, 300.0, 1200.0, 7200.0)))
    def step_amid_anything(self, data, seconds):
        """A step with whatever sensors and plugs may say."""
        then = self.steady + seconds
        air = {
            room.name: data.draw(worlds.samples(then))
            for room in self.house.rooms
            if data.draw(st.booleans())
        }
        plugs = {
            key: data.draw(worlds.reports(then, self.on[key], heater.watts))
            for key, heater, _ in self.house.heaters()
            if data.draw(st.booleans())
        }
        outdoor = data.draw(st.one_of(st.none(), worlds.values, st.floats(-20, 20)))
        battery = {"room 0": data.draw(worlds.values)} if data.draw(st.booleans()) else {}
        self._step(
            Observation(
                air=air,
                outdoor=outdoor,
                plugs=plugs,
                battery_percent=battery,
                forecast=worlds.FORECASTS.get(seconds, ()),
                stopping=data.draw(st.integers(0, 19)) == 0,
            ),
            seconds,
        )

    @rule(
        celsius=st.floats(14, 23),
        drift=st.sampled_from((0.0, 0.0, 0.02, -0.02, 0.1)),
        count=st.integers(1, 130),
        seconds=st.sampled_from((10.0, 60.0, 300.0)),
    )
    def good_stretch(self, celsius, drift, count, seconds):
        """A while in which sensors and plugs behave, the air drifts, and people are home."""
        for what in (Out, AllOff):
            self.regulator.do(self.moment, Cancel(what))
        for n in range(count):
            then = self.steady + seconds
            shown = round(celsius + 0.05 * (n % 3) + drift * n, 3)  # the daemon rounds what it hands over
            air = {room.name: shown for room in self.house.rooms}
            plugs = {
                key: PlugReport(on=self.on[key], watts=heater.watts * self.on[key], on_at=then, watts_at=then)
                for key, heater, _ in self.house.heaters()
            }
            self._step(Observation(air=air, outdoor=0.0, plugs=plugs), seconds, twin=n in (0, count - 1))

    @rule(data=st.data())
    def ask(self, data):
        """Anyone asks anything: an answer always comes, in words of the closed list."""
        request = data.draw(worlds.requests(self.house, self.moment.wall))
        before = self.regulator.memory | {"clock": None}
        answer = self.regulator.do(self.moment, request)
        assert isinstance(answer, (Accepted, Refused))
        assert answer.sentence
        if isinstance(answer, Refused):
            assert answer.code in SENTENCES
        elif isinstance(request, worlds.Seen):
            self.seen_since.add(request.trouble)
        if isinstance(answer, Refused):
            after = self.regulator.memory | {"clock": None}
            ended = [key for key in ("out",) if before[key] and not after[key]]
            assert ended or before["heaters"] == after["heaters"]
        self._hold_honoured(request, answer)

    def _hold_honoured(self, request, answer):
        """What lies within the room's limits is kept, or refused for what a person can see and change."""
        room = self.house.room(request.room) if isinstance(request, Ask) else None
        if room is None or not is_finite(request.celsius):
            return
        within = room.household.lowest <= request.celsius <= room.household.highest
        kept = from_plain(self.regulator.memory).rooms[room.name]
        if isinstance(answer, Accepted):
            assert within, "accepted past the limits"
            assert answer.celsius == request.celsius
            asked = [kept.request] if request.begins is None else kept.later
            assert request.celsius in [one.celsius for one in asked]
        elif within:
            assert answer.code in ("everyone-out", "too-long", "in-the-past", "not-understood") or (
                request.begins is not None
                and answer.code in ("too-far-ahead", "too-many-waiting", "ends-before", "asked-then", "room-is-off")
            ), answer
        else:
            assert answer.limit in (room.household.lowest, room.household.highest)

    @rule(celsius=st.floats(12, 23), minutes=st.floats(1, 60))
    def ask_well(self, celsius, minutes):
        """What is asked within the limits is accepted, and is the target of the next step."""
        for what in (Out, AllOff):
            self.regulator.do(self.moment, Cancel(what))
        for room in self.house.rooms:
            for one in from_plain(self.regulator.memory).rooms[room.name].later:
                begins = datetime.fromtimestamp(one.begins_wall, UTC)
                assert isinstance(self.regulator.do(self.moment, Cancel(room.name, begins=begins)), Accepted)
            answer = self.regulator.do(self.moment, Ask(room.name, celsius, NO_END))
            assert isinstance(answer, Accepted)
        for spot in self.house.spots:
            answer = self.regulator.do(self.moment, WarmMe(spot.name, minutes))
            assert isinstance(answer, Accepted) or answer.code == "spot-not-now"
        self._step(Observation(), 10.0)
        assert all(room.target.celsius == celsius for room in self.result.rooms.values())

    @rule(which=st.integers(0, 6))
    def press(self, which):
        """Someone presses a plug's button, in a quiet moment; the plug tells so."""
        keys = list(self.on)
        if not keys:
            return
        key = keys[which % len(keys)]
        on = not self.on[key]
        self._step(Observation(plugs={key: PlugReport(on=on)}), 60.0)

    @rule(hours=st.sampled_from((-24 * 20000, -30, -1, 0.02, 1, 24)))
    def jump_wall(self, hours):
        """The wall clock is set."""
        self.offset += 3600.0 * hours

    @rule(interlock=st.sampled_from((*guard.INTERLOCKS, guard.circuit)), raises=st.booleans())
    def break_an_interlock(self, interlock, raises):
        """One check raises, or answers nothing, for one step: every heater is off."""
        name = "judge_all" if interlock is guard.circuit else "judge"
        real = getattr(interlock, name)

        def broken(*_):
            if raises:
                raise OSError("broken")

        setattr(interlock, name, broken)
        self.latched = set()  # a check that fails says nothing of its latch
        try:
            self._step(Observation(), 10.0)
        finally:
            setattr(interlock, name, real)
        assert not any(order.on for order in self.result.orders.values())

    @rule(down=st.sampled_from((1.0, 60.0, 4000.0)), known=st.booleans())
    def restart(self, down, known):
        """The process dies, and another starts from what it left."""
        self.steady += down
        plain = json.loads(json.dumps(self.regulator.memory))
        self.regulator = Regulator(self.house, memory=awaken(plain, elapsed_known=known))
        for key, was_on in self.before.items():
            if was_on:
                self.before[key], self.changed[key] = False, self.steady - down
        self.on = dict.fromkeys(self.on, False)


HouseMachine.TestCase.settings = settings(
    max_examples=100,
    stateful_step_count=30,
    suppress_health_check=list(HealthCheck),
    derandomize=True,
    phases=(Phase.explicit, Phase.reuse, Phase.generate, Phase.shrink),
)


@pytest.mark.timeout(600)
class TestHouse(HouseMachine.TestCase):
    """CI's share."""

    def runTest(self):
        """Tens of thousands of steps."""
        HouseMachine.steps = 0
        super().runTest()
        print(f"\n{HouseMachine.steps} steps of random houses, and every invariant held at each")
        assert HouseMachine.steps >= FEWEST_STEPS


class NightMachine(HouseMachine):
    """The same, for as long as a night allows."""

    steps = 0


NightMachine.TestCase.settings = settings(
    max_examples=400,
    stateful_step_count=80,
    suppress_health_check=list(HealthCheck),
)


@pytest.mark.timeout(0)
@pytest.mark.night
class TestNight(NightMachine.TestCase):
    """The night's share."""

    def runTest(self):
        """Hundreds of thousands of steps."""
        super().runTest()
        print(f"\n{NightMachine.steps} steps of random houses, and every invariant held at each")
