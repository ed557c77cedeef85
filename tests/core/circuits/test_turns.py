"""Turns on one circuit, as arithmetic: random heaters, and random houses through a cold night. All invented."""

from dataclasses import dataclass, field, replace

from hypothesis import given, settings
from hypothesis import strategies as st

from thermostatd.core.sharing.need import LONGEST_WAIT_SECONDS, WAIT_KELVIN_PER_HOUR
from thermostatd.core.sharing.turns import TURN_SECONDS, Member, share_out

MANY = settings(max_examples=100, derandomize=True)
NIGHTS = settings(max_examples=15, derandomize=True)
TICK, SLACK = 30.0, 1e-6


@st.composite
def members(draw):
    """One to six heaters in any state."""
    found = []
    for n in range(draw(st.integers(1, 6))):
        ran = draw(st.one_of(st.none(), st.floats(0, 4000)))
        wanted = draw(st.booleans())
        drawing = not (wanted and ran is not None) and (ran is not None or draw(st.integers(0, 3)) == 0)
        found.append(Member(
            f"room {n}/oil", draw(st.floats(1.0, 12.0)), wanted, ran, drawing, drawing and draw(st.booleans()),
            drawing and draw(st.booleans()), draw(st.sampled_from((None, None, None, "first", "last"))),
            draw(st.sampled_from((10.0, 300.0, 1200.0))), TURN_SECONDS, draw(st.floats(0, 5)), draw(st.floats(0, 9000)),
        ))
    return found


@MANY
@given(members(), st.floats(4.0, 20.0))
def test_the_share_is_never_passed(found, share):
    """What is allowed on, beside what may draw without an order, fits, or nothing new is on."""
    rulings = share_out(found, share)
    assert set(rulings) == {member.key for member in found if member.wanted}
    taken = sum(member.amps for member in found if member.drawing)
    given_now = [member for member in found if rulings.get(member.key) and rulings[member.key].on]
    taken += sum(member.amps for member in given_now if not member.drawing)
    assert taken <= share + SLACK or not given_now
    going_off = sum(m.amps for m in found if m.ran_seconds is not None and not m.drawing and m not in given_now)
    starts = [member for member in given_now if member.ran_seconds is None and not member.drawing]
    assert not starts or taken + going_off <= share + SLACK


@MANY
@given(members(), st.floats(4.0, 20.0))
def test_a_short_run_ends_only_where_the_sum_is_over(found, share):
    """A heater within its shortest run goes off for an overload alone, and that is said; one ON at a time starts."""
    rulings = share_out(found, share)
    on_now = sum(m.amps for m in found if m.drawing or m.ran_seconds is not None)
    for member in found:
        ruling = rulings.get(member.key)
        if ruling and not ruling.on and member.fresh:
            assert ruling.over
            assert on_now > share - SLACK
    starts = [m for m in found if m.key in rulings and rulings[m.key].on and m.ran_seconds is None and not m.drawing]
    assert len(starts) <= 1
    assert not starts or all(m.ran_seconds is None or m.ran_seconds >= TICK for m in found)


def test_the_needier_room_takes_over_after_a_turn_and_not_before():
    """Half a kelvin more need moves a share once the turn is over; less does not, nor a turn half run."""
    runs = Member("den/oil", 4.0, True, 700.0, need=1.0)
    waits = Member("hall/oil", 4.0, True, need=1.6, waited=60.0)
    assert share_out([runs, waits], 5.0)["den/oil"].code == "turn-over"
    assert share_out([replace(runs, ran_seconds=400.0), waits], 5.0)["den/oil"].on
    assert share_out([runs, replace(waits, need=1.4)], 5.0)["den/oil"].on


def test_a_spot_comes_first_or_last():
    """A first spot takes a share from a room past its shortest run; a last one gives way to any room."""
    room, spot = Member("den/oil", 4.0, True, 400.0, need=5.0), Member("desk/panel", 4.0, True, spot="first")
    assert not share_out([room, spot], 5.0)["den/oil"].on
    assert share_out([replace(room, ran_seconds=200.0), spot], 5.0)["den/oil"].on
    last = replace(spot, spot="last", ran_seconds=400.0)
    assert not share_out([last, replace(room, ran_seconds=None, need=0.0)], 5.0)["desk/panel"].on


def test_the_next_in_line_is_not_overtaken_by_a_smaller_one():
    """A large heater that waits for a turn to end keeps the place that a smaller, later one would take."""
    runs = Member("den/oil", 4.0, True, 500.0)
    large, small = Member("hall/oil", 8.0, True, need=2.0), Member("loft/oil", 2.0, True, need=1.0)
    assert not share_out([runs, large, small], 8.0)["loft/oil"].on
    assert share_out([runs, small], 8.0)["loft/oil"].on


def test_a_heater_larger_than_its_circuit_is_told_so_and_holds_nobody_up():
    """It never starts, and the others share as if it were not there."""
    rulings = share_out([Member("den/oil", 9.0, True, need=9.0), Member("hall/oil", 4.0, True)], 8.0)
    assert (rulings["den/oil"].on, rulings["den/oil"].code, rulings["hall/oil"].on) == (False, "turn-never", True)


@dataclass
class Body:
    """A room that cools towards outdoors and is warmed by its heater, always wanting heat while under target."""

    member: Member
    min_off: float
    hours: float
    rise: float
    celsius: float
    outdoor: float
    on_since: float | None = None
    off_since: float = -1e9
    waited: float = 0.0
    longest: float = 0.0
    runs: list = field(default_factory=list)

    def now(self, clock: float) -> Member:
        """How it stands: rested, wanting, with its need."""
        wanted = self.on_since is not None or clock - self.off_since >= self.min_off
        ran = None if self.on_since is None else clock - self.on_since
        need = max(0.0, 20.0 - self.celsius) + WAIT_KELVIN_PER_HOUR * self.waited / 3600.0
        leaving = self.on_since is None and clock - self.off_since <= TICK
        return replace(self.member, wanted=wanted, ran_seconds=ran, need=need, waited=self.waited,
                       drawing=leaving, leaving=leaving)

    def live(self, clock: float, on: bool, wanted: bool) -> None:
        """Take the ruling, and let a tick pass."""
        self.waited = 0.0 if on else self.waited + TICK * wanted
        self.longest = max(self.longest, self.waited)
        if on and self.on_since is None:
            self.on_since = clock
        if not on and self.on_since is not None:
            self.runs.append(clock - self.on_since)
            self.on_since, self.off_since = None, clock
        end = self.outdoor + self.rise * on
        self.celsius += (end - self.celsius) * TICK / (3600.0 * self.hours)


@st.composite
def nights(draw):
    """Two to five cold rooms on one circuit that cannot carry all of them."""
    outdoor, bodies = draw(st.floats(-15, 10)), []
    for n in range(draw(st.integers(2, 5))):
        min_on = draw(st.sampled_from((60.0, 300.0, 1200.0)))
        member = Member(f"room {n}/oil", draw(st.sampled_from((2.0, 4.0, 8.0))), True, min_on=min_on,
                        turn=max(min_on, TURN_SECONDS))
        bodies.append(Body(member, draw(st.sampled_from((60.0, 300.0, 1200.0))), draw(st.floats(1.0, 60.0)),
                           draw(st.floats(5.0, 40.0)), draw(st.floats(8.0, 19.0)), outdoor))
    return bodies, draw(st.sampled_from((8.0, 9.0, 12.0)))


@NIGHTS
@given(nights())
def test_nobody_starves_on_any_circuit(night):
    """However cold the others are, a wait ends: the longest wait, and then a turn of each of the others."""
    bodies, share = night
    for step in range(int(10 * 3600 / TICK)):
        clock = step * TICK
        standing = [body.now(clock) for body in bodies]
        rulings = share_out(standing, share)
        amps = 0.0
        for body, member in zip(bodies, standing, strict=True):
            on = bool(rulings.get(member.key) and rulings[member.key].on)
            amps += member.amps if on or member.drawing or member.ran_seconds is not None else 0.0
            body.live(clock, on, member.wanted)
        assert amps <= share + SLACK
    for body in bodies:
        others = sum(other.member.turn + other.min_off + 4 * TICK for other in bodies if other is not body)
        assert body.longest <= LONGEST_WAIT_SECONDS + others
        assert all(ran >= body.member.min_on for ran in body.runs)
