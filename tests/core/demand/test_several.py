"""Who does what in a room of several heaters, bound by bound. The room and its heaters are invented."""

import pytest

from tests.stories.teller import house_of
from thermostatd.core.demand import several
from thermostatd.core.demand.several import Parts
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.memory import HandMemory, HeaterMemory, Memory, RoomMemory
from thermostatd.core.plug import level_watts
from thermostatd.core.reasons import reason
from thermostatd.core.results import Demand, Target

NOW = 50_000.0
HOUSE = """
[[room]]
name = "parlour"
sensor = {{ topic = "air" }}
control = "{control}"
"""
HEATER = """
[[room.heater]]
name = "{name}"
kind = "{kind}"
watts = {watts}
may_run = ["awake", "asleep"]
plug = {{ kind = "mqtt", tell = "{name}/set", {tells} timer = {{ payload = "1 {{seconds}}" }} }}
"""
SHOWS = 'shows = { topic = "t" }, draws = { topic = "t" },'
THREE = (("quick", "convector", 700), ("column", "oil-filled", 600), ("flat", "panel", 400))


class Parlour:
    """A room of heaters, in the file's order: a convector of 700 W, an oil-filled one of 600 W, a panel of 400 W."""

    def __init__(self, count=2, control="hysteresis", tells=SHOWS, known=3600.0, watts=0.0, **notes):
        toml = HOUSE.format(control=control) + "".join(
            HEATER.format(name=name, kind=kind, watts=power, tells=tells)
            for name, kind, power in THREE[:count]
        )
        self.room = house_of(toml).rooms[0]
        kept = RoomMemory()
        kept.demand["several"] = {"known": known, "watts": watts, **notes}
        self.memory = Memory(
            rooms={"parlour": kept},
            heaters={
                self.room.key_of(heater): HeaterMemory(heard=True, shown_on=False, shown_at=0.0)
                for heater in self.room.heaters
            },
        )

    def __getitem__(self, name):
        """What is kept of one heater."""
        return self.memory.heaters[f"parlour/{name}"]

    @property
    def notes(self):
        """What is kept of the parts."""
        return self.memory.rooms["parlour"].demand["several"]

    def parts(self, below=0.0, seconds=10.0, circumstance="awake", steady=NOW):
        """Names of base, trim, idle and lost where the air is so far under its target; None without two to count on."""
        target = Target(below, "usual", "usual")  # against air of 0 °C, so that no digit is lost
        found = several.parts(self.room, self.memory, 0.0, target, steady, seconds, circumstance)
        if found is None:
            return None
        return tuple(
            "+".join(h.name for h in part) for part in (found.base, found.trim, found.idle, found.lost)
        )


def test_a_room_that_is_not_known_yet_works_with_all_it_has():
    """The quick one first; nobody carries until an hour's need is known."""
    assert Parlour(known=3589.0, watts=900.0).parts(0.1) == ("", "quick+column", "", "")
    assert Parlour(3, known=0.0).parts(0.1) == ("", "quick+flat+column", "", "")
    assert Parlour(known=3590.0, watts=900.0).parts(0.1) == ("column", "quick", "", "")


@pytest.mark.parametrize(
    ("change", "lost"),
    [
        ({"reachable": False}, True), ({"hand": HandMemory(True, NOW + 60.0, 0.0)}, True), ({"heard": False}, True),
        ({"notes": {"drawing-nothing": {"latched": True}}}, True), ({"notes": {"no-answer": {"latched": True}}}, True),
        ({"notes": {"warm-plug": {"latched": True}}}, True), ({"notes": {"silent-plug": {"tries": 1}}}, True),
        ({"notes": {"drawing-while-off": {"latched": True}}}, True),
        ({"notes": {"drawing-nothing": {"tries": 1}}}, True), ({"notes": {"drawing-nothing": {"tries": 0}}}, False),
        ({"notes": {"drawing-nothing": {"pause_until": NOW + 1.0}}}, True),
        ({"notes": {"drawing-nothing": {"pause_until": NOW}}}, False),
        ({"notes": {"overshoot": {"latched": True}}}, False),
        ({"notes": {"circuit": {"waited": 600.0}}}, False), ({"notes": {"circuit": {"waited": 601.0}}}, True),
        ({"told_on": True, "on_since": 0.0, "watts": 21.0, "watts_at": NOW}, True),
        ({"told_on": True, "on_since": 0.0, "watts": 600.0, "watts_at": NOW}, False),
        ({"on_since": 0.0, "watts": 0.0, "watts_at": NOW}, False),
        ({"told_on": True, "on_since": 0.0, "watts": None, "watts_at": NOW}, False),
        ({}, False),
    ],
)  # fmt: skip
def test_a_heater_that_cannot_be_counted_on_is_neither_base_nor_trim(change, lost):
    """Away, pressed by hand, never heard, latched, waiting long for its share, or on and drawing nothing."""
    room = Parlour(3, known=0.0)
    for name, value in change.items():
        setattr(room["quick"], name, value)
    expected = ("", "flat+column", "", "quick") if lost else ("", "quick+flat+column", "", "")
    assert room.parts() == expected


def test_drawing_at_the_floor_is_drawing_nothing():
    """To the watt: the floor itself does not count as drawing."""
    from thermostatd.core.plug import drawing_floor_watts

    room = Parlour(3, known=0.0)
    floor = drawing_floor_watts(room.room.heaters[0])
    room["quick"].told_on, room["quick"].on_since, room["quick"].watts_at = True, 0.0, NOW
    for watts, lost in ((floor, "quick"), (floor + 0.1, "")):
        room["quick"].watts = watts
        assert room.parts()[3] == lost


def test_a_plug_that_cannot_say_anything_is_counted_on_unheard():
    """There is nothing to wait for."""
    room = Parlour(known=0.0, tells="")
    room["quick"].heard = False
    assert room.parts() == ("", "quick+column", "", "")


def test_where_two_cannot_be_counted_on_there_are_no_parts():
    """Not allowed now, or lost; and what was known of them is forgotten."""
    room = Parlour(watts=700.0)
    assert room.parts(circumstance="away") is None
    assert room.notes == {}
    room = Parlour()
    room["quick"].reachable = False
    assert room.parts() is None
    assert Parlour(3).parts() is not None


@pytest.mark.parametrize(
    ("watts", "below", "base"),
    [
        (600.0, 0.0, "column"), (599.0, 0.0, ""), (600.0, -0.01, ""), (900.0, 0.79, "column"),
    ],
)  # fmt: skip
def test_the_steadiest_joins_the_base_where_the_room_needs_more_than_it(watts, below, base):
    """Not under what it gives, not while the air is over its target."""
    room = Parlour(watts=watts)
    assert room.parts(below, seconds=0.0)[0] == base
    assert room.notes["base"] == ([base] if base else [])


def test_one_is_always_left_to_trim():
    """However much is needed; two may carry in a room of three."""
    assert Parlour(watts=5000.0).parts(0.1, seconds=0.0)[:2] == ("column", "quick")
    assert Parlour(3, watts=5000.0).parts(0.1, seconds=0.0)[:2] == ("column+flat", "quick")
    assert Parlour(3, watts=999.0).parts(0.1, seconds=0.0)[:2] == ("column", "quick")
    assert Parlour(3, watts=1000.0).parts(0.1, seconds=0.0)[:2] == ("column+flat", "quick")


def test_a_base_is_reckoned_by_what_was_metered():
    """An oil-filled heater of 600 W that draws 350 W carries where 350 W are needed."""
    room = Parlour(watts=349.0)
    room["column"].facts = HeaterFacts(level_watts=350.0)
    assert room.parts(0.1, seconds=0.0)[0] == ""
    room.notes["watts"] = 350.0
    assert room.parts(0.1, seconds=0.0)[0] == "column"
    assert level_watts(room["column"], room.room.heaters[1]) == 350.0
    assert level_watts(room["quick"], room.room.heaters[0]) == 700.0


@pytest.mark.parametrize(
    ("asks", "since", "watts", "base"),
    [
        ("all", NOW - 1200.0, 510.0, "column"), ("all", NOW - 1200.0, 509.0, ""), ("all", NOW - 1199.0, 599.0, ""),
        ("part", NOW - 1200.0, 599.0, ""), ("part", NOW - 1200.0, 600.0, "column"),
    ],
)  # fmt: skip
def test_where_the_trim_fails_alone_less_need_is_enough(asks, since, watts, base):
    """All of it for twenty minutes: 85 % of what the base gives."""
    room = Parlour(watts=watts, asks=asks, since=since)
    assert room.parts(0.0, seconds=0.0)[0] == base


@pytest.mark.parametrize(("left", "base"), [(NOW - 3600.0, "column"), (NOW - 3599.0, "")])
def test_a_base_that_was_too_much_joins_again_after_an_hour(left, base):
    """Not sooner."""
    assert Parlour(watts=900.0, left_at=left).parts(0.1, seconds=0.0)[0] == base


def test_a_base_that_was_never_too_much_joins_also_soon_after_a_start():
    """However young the steady clock is; and a room that knows nothing yet, far under its target, has no base."""
    assert Parlour(watts=900.0).parts(0.1, seconds=0.0, steady=100.0)[0] == "column"
    room = Parlour()
    room.notes.clear()
    assert room.parts(1.0) == ("", "quick+column", "", "")


@pytest.mark.parametrize(("below", "base"), [(-0.54, "column"), (-0.55, ""), (-0.7, "")])
def test_far_over_the_target_nobody_carries(below, base):
    """0.55 K over, whatever was needed."""
    room = Parlour(watts=900.0, base=["column"], trim=["quick"], asks="part", since=0.0)
    assert room.parts(below, seconds=0.0)[0] == base
    assert room.notes["watts"] == 900.0


@pytest.mark.parametrize(
    ("asks", "since", "below", "watch", "left", "kept"),
    [
        ("none", NOW - 1200.0, -0.2, [NOW - 1200.0, -0.2], True, None),
        ("none", NOW - 1200.0, -0.2, [NOW - 1200.0, -0.249], True, None),
        ("none", NOW - 1200.0, -0.2, [NOW - 1200.0, -0.251], False, None),
        ("none", NOW - 1200.0, -0.2, [NOW - 1199.0, -0.2], False, [NOW - 1199.0, -0.2]),
        ("none", NOW - 1200.0, -0.2, None, False, [NOW, -0.2]),
        ("none", NOW - 1199.0, -0.2, [NOW - 1200.0, -0.2], False, None),
        ("part", NOW - 1200.0, -0.2, [NOW - 1200.0, -0.2], False, None),
        ("none", NOW - 1200.0, 0.0, [NOW - 1200.0, -0.2], False, None),
        ("none", NOW - 1200.0, 0.1, [NOW - 1200.0, -0.2], False, None),
        ("none", NOW - 1200.0, 0.0, [NOW - 1200.0, -0.02], False, None),
        ("none", NOW - 1200.0, 0.02, [NOW - 1200.0, -0.02], False, None),
    ],
)
def test_a_base_that_alone_holds_the_air_over_its_target_leaves(asks, since, below, watch, left, kept):
    """Long after the trim went off, over twenty minutes in which the air fell by less than 0.05 K."""
    room = Parlour(watts=900.0, base=["column"], trim=["quick"], asks=asks, since=since, on=False)
    if watch:
        room.notes["watch"] = watch
    assert room.parts(below, seconds=0.0)[0] == ("" if left else "column")
    assert room.notes["watts"] == (480.0 if left else 900.0)
    assert room.notes.get("left_at") == (NOW if left else None)
    assert room.notes.get("watch") == (pytest.approx(kept) if kept else None)


def test_of_two_that_carry_the_less_steady_leaves():
    """What the other gives and four fifths of it is what is needed, then."""
    room = Parlour(
        3, watts=1100.0, base=["column", "flat"], trim=["quick"], asks="none", since=0.0, on=False,
        watch=[NOW - 1200.0, -0.2],
    )  # fmt: skip
    assert room.parts(-0.2, seconds=0.0)[0] == "column"
    assert room.notes["watts"] == 600.0 + 0.8 * 400.0


@pytest.mark.parametrize(
    ("below", "notes", "trim", "idle"),
    [
        (0.7, {"watts": 100.0}, "quick+flat+column", ""),
        (0.69, {"watts": 100.0}, "quick", "flat+column"),
        (-0.1, {"watts": 560.0}, "quick", "flat+column"),
        (-0.1, {"watts": 561.0}, "quick+flat", "column"),
        (0.1, {"watts": 100.0, "trim": ["quick", "flat"], "on": True}, "quick+flat", "column"),
        (0.1, {"watts": 100.0, "trim": ["quick", "flat"], "on": False}, "quick", "flat+column"),
        (0.1, {"watts": 100.0, "trim": [], "on": True}, "quick", "flat+column"),
        (
            0.1,
            {"watts": 100.0, "trim": ["quick"], "asks": "all", "since": NOW - 1200.0},
            "quick+flat",
            "column",
        ),
        (
            0.1,
            {"watts": 100.0, "trim": ["quick"], "asks": "all", "since": NOW - 1199.0},
            "quick",
            "flat+column",
        ),
        (
            0.0,
            {"watts": 100.0, "trim": ["quick"], "asks": "all", "since": NOW - 1200.0},
            "quick",
            "flat+column",
        ),
        (
            0.1,
            {"watts": 100.0, "trim": ["quick"], "asks": "part", "since": NOW - 1200.0},
            "quick",
            "flat+column",
        ),
        (0.1, {"watts": 100.0, "asks": "all", "since": NOW - 1200.0}, "quick", "flat+column"),
    ],
)
def test_the_trim_is_the_quickest_that_are_enough(below, notes, trim, idle):
    """A quarter over the need, chosen while off; one more when all of it lasts twenty minutes; all far under."""
    room = Parlour(3, **notes)
    found = room.parts(below, seconds=0.0)
    assert (found[1], found[2]) == (trim, idle)
    assert room.notes["trim"] == trim.split("+")


def test_one_more_that_trims_begins_its_own_twenty_minutes():
    """Not the next one at the next step."""
    room = Parlour(3, watts=100.0, trim=["quick"], asks="all", since=NOW - 1200.0)
    room.parts(0.1, seconds=0.0)
    assert room.notes["since"] == NOW
    room = Parlour(3, watts=100.0, trim=["quick"], asks="all", since=NOW - 1199.0)
    room.parts(0.1, seconds=0.0)
    assert room.notes["since"] == NOW - 1199.0


def test_the_trim_is_what_is_needed_beside_the_base():
    """100 W over the base: the quickest alone."""
    assert Parlour(3, watts=850.0).parts(0.1, seconds=0.0) == ("column", "quick", "flat", "")


@pytest.mark.parametrize(
    ("below", "learned"), [(0.8, True), (0.81, False), (-0.8, True), (-0.81, False), (0.0, True)]
)
def test_the_need_is_learned_near_the_target(below, learned):
    """Within 0.8 K either way."""
    room = Parlour(known=0.0)
    room["quick"].told_on = True
    room.parts(below, seconds=30.0)
    assert (room.notes["known"], room.notes["watts"]) == ((30.0, 700.0) if learned else (0.0, 0.0))


@pytest.mark.parametrize(
    ("known", "before", "seconds", "after", "total"),
    [
        (0.0, 0.0, 0.0, 0.0, 0.0), (0.0, 0.0, 300.0, 700.0, 300.0), (300.0, 100.0, 300.0, 400.0, 600.0),
        (0.0, 0.0, 900.0, 700.0, 300.0), (5400.0, 160.0, 54.0, 165.4, 5400.0), (5390.0, 160.0, 20.0, 162.0, 5400.0),
    ],
)  # fmt: skip
def test_the_need_is_a_mean_over_an_hour_and_a_half(known, before, seconds, after, total):
    """Even at first, then fading; a step counts for five minutes at most."""
    room = Parlour(known=known, watts=before)
    room["quick"].told_on = True
    room.parts(0.0, seconds=seconds)
    assert room.notes["watts"] == pytest.approx(after)
    assert room.notes["known"] == total


def test_the_first_step_of_all_learns_from_nothing():
    """A memory in which nothing stands of it yet."""
    room = Parlour()
    room.memory.rooms["parlour"].demand.clear()
    room["quick"].told_on = True
    assert room.parts(0.1, seconds=20.0) == ("", "quick+column", "", "")
    assert (room.notes["known"], room.notes["watts"]) == (20.0, 700.0)


def test_a_heater_that_was_carried_in_is_told_from_one_of_its_name():
    """By the key that it keeps; and the air counts as it is, not from zero."""
    room = Parlour(watts=100.0)
    quick, column = room.room.heaters
    carried = quick.model_copy(update={"name": "column"}).keeping_key("den/column")
    room.room = room.room.model_copy(update={"heaters": (carried, column)})
    room.memory.heaters["den/column"] = HeaterMemory(heard=True, told_on=True)
    target = Target(20.0, "usual", "usual")
    found = several.parts(room.room, room.memory, 20.0, target, NOW, 0.0, "awake")
    assert (found.trim, found.idle, room.notes["trim"]) == ((carried,), (column,), ["den/column"])
    room.notes.update(known=0.0, watts=0.0)
    several.parts(room.room, room.memory, 20.0, target, NOW, 10.0, "awake")
    assert room.notes["watts"] == 700.0


def test_what_is_delivered_is_what_is_metered_or_the_level():
    """All heaters that are on, the lost ones too; not what an off one shows."""
    room = Parlour(3, known=0.0)
    room["quick"].told_on = room["column"].told_on = True
    room["column"].watts, room["column"].watts_at = 250.0, NOW
    room["flat"].watts, room["flat"].watts_at = 30.0, NOW
    room["quick"].reachable = False
    room.parts(0.0, seconds=60.0)
    assert room.notes["watts"] == 950.0
    room["quick"].facts = HeaterFacts(level_watts=500.0)
    room.notes.update(known=0.0, watts=0.0)
    room.parts(0.0, seconds=60.0)
    assert room.notes["watts"] == 750.0


def test_while_one_rests_on_trial_no_need_is_learned():
    """What is delivered then is not what is needed."""
    room = Parlour(known=60.0, watts=500.0)
    room["column"].notes["no-answer"] = {"resting_since": 0.0}
    room.parts(0.0, seconds=60.0)
    assert (room.notes["known"], room.notes["watts"]) == (60.0, 500.0)


@pytest.mark.parametrize(
    ("before", "after"),
    [(1.0, 0.1428571), (2.0, 1.0), (0.1, -0.5), (0.5, -0.357142)],
)
def test_the_integral_is_carried_over_a_change_of_parts(before, after):
    """In the measure of the new trim, within its own bounds: 600 W join the base beside a trim of 700 W."""
    room = Parlour(watts=900.0, trim=["quick"], control="proportional")
    room.memory.rooms["parlour"].demand["proportional"] = {"integral": before}
    room.parts(0.1, seconds=0.0)
    assert room.memory.rooms["parlour"].demand["proportional"]["integral"] == pytest.approx(after, abs=1e-5)


def test_the_integral_in_the_measure_of_a_wider_trim():
    """From 700 W to 1100 W and from a base of 600 W to none."""
    room = Parlour(3, watts=700.0, base=["column"], trim=["quick"], asks="none", since=0.0, on=False,
                   watch=[NOW - 1200.0, -0.2])  # fmt: skip
    room.memory.rooms["parlour"].demand["proportional"] = {"integral": 0.1}
    assert room.parts(-0.2, seconds=0.0)[:2] == ("", "quick")
    integral = room.memory.rooms["parlour"].demand["proportional"]["integral"]
    assert integral == pytest.approx((0.1 * 700.0 + 600.0) / 700.0)
    room = Parlour(3, watts=100.0, trim=["quick"])
    room.memory.rooms["parlour"].demand["proportional"] = {"integral": 0.5}
    room.notes["base"] = []
    room["column"].reachable = False
    assert room.parts(0.7, seconds=0.0)[:2] == ("", "quick+flat")
    integral = room.memory.rooms["parlour"].demand["proportional"]["integral"]
    assert integral == pytest.approx(0.5 * 700.0 / 1100.0)


@pytest.mark.parametrize("trim", [[], ["quick"]])
def test_the_integral_stays_where_the_parts_do_or_there_were_none(trim):
    """To the last digit."""
    room = Parlour(watts=100.0, trim=trim)
    room.memory.rooms["parlour"].demand["proportional"] = {"integral": 0.3}
    assert room.parts(0.1, seconds=0.0)[:2] == ("", "quick")
    assert room.memory.rooms["parlour"].demand["proportional"] == {"integral": 0.3}
    room.memory.rooms["parlour"].demand["proportional"] = {}
    room.parts(0.7)
    assert room.memory.rooms["parlour"].demand["proportional"] == {}


WARMING, BASE = reason("warming", target=20.0, eta=""), reason("base-on")


def shared(room, found, demand, steady=NOW):
    """The room's demand, and what is wanted of each heater by its name."""
    by_name = {heater.name: heater for heater in room.room.heaters}
    parts = Parts(*(tuple(by_name[name] for name in part.split("+") if name) for part in found))
    total, wants = several.spread(room.room, room.memory, parts, demand, steady)
    return total, {key.partition("/")[2]: want for key, want in wants.items()}


@pytest.mark.parametrize(
    ("found", "share", "total"),
    [
        (("column", "quick", "flat", ""), 0.5, 950.0 / 1700.0),
        (("column", "quick", "", "flat"), 0.5, 950.0 / 1300.0),
        (("", "quick+flat+column", "", ""), 1.0, 1.0),
    ],
)
def test_the_rooms_share_is_that_of_all_its_heaters_that_count(found, share, total):
    """Base and the trim's share, over all but the lost."""
    demand, _ = shared(Parlour(3), found, Demand(True, share, WARMING))
    assert demand == Demand(True, pytest.approx(total), WARMING)


def test_the_base_is_on_the_trim_follows_and_the_rest_stays_still():
    """What is lost follows as if alone, so that it is found when it is back."""
    room = Parlour(3)
    _, wants = shared(room, ("column", "quick", "flat", ""), Demand(True, 1.0, WARMING))
    assert wants == {"column": (True, BASE), "quick": (True, WARMING), "flat": (False, reason("not-needed"))}
    rest = reason("warm-enough")
    _, wants = shared(room, ("column", "quick", "flat", ""), Demand(False, 0.0, rest))
    assert wants == {"column": (True, BASE), "quick": (False, rest), "flat": (False, rest)}
    _, wants = shared(room, ("", "quick", "column", "flat"), Demand(True, 1.0, WARMING))
    assert wants["flat"] == (True, WARMING)


@pytest.mark.parametrize(
    ("control", "on", "share", "asks"),
    [
        ("hysteresis", True, 0.5, "all"), ("hysteresis", False, 0.5, "none"),
        ("proportional", True, 0.9, "all"), ("proportional", True, 0.89, "part"),
        ("proportional", False, 0.05, "none"), ("proportional", False, 0.06, "part"),
    ],
)  # fmt: skip
def test_what_the_law_asks_of_its_trim_is_kept_with_since_when(control, on, share, asks):
    """By its share where it goes by cycles; since stands while the same is asked."""
    room = Parlour(3, control=control)
    shared(room, ("", "quick", "", ""), Demand(on, share, WARMING))
    assert (room.notes["asks"], room.notes["since"], room.notes["on"]) == (asks, NOW, on)
    shared(room, ("", "quick", "", ""), Demand(on, share, WARMING), NOW + 60.0)
    assert room.notes["since"] == NOW
    room.notes["asks"] = "other"
    shared(room, ("", "quick", "", ""), Demand(on, share, WARMING), NOW + 60.0)
    assert (room.notes["asks"], room.notes["since"]) == (asks, NOW + 60.0)
    del room.notes["since"]
    shared(room, ("", "quick", "", ""), Demand(on, share, WARMING), NOW + 90.0)
    assert room.notes["since"] == NOW + 90.0


@pytest.mark.parametrize(
    ("model", "expected"),
    [
        (None, {"gain_kelvin": 15.0, "tau_seconds": 14400.0, "dead_seconds": 600.0}),
        (
            {"gain_kelvin": 20.0, "tau_seconds": 1.0, "dead_seconds": 2.0, "other": 3.0},
            {"gain_kelvin": 10.0, "tau_seconds": 1.0, "dead_seconds": 2.0, "other": 3.0},
        ),
    ],
)
def test_a_part_of_the_power_has_a_part_of_the_gain(model, expected):
    """The model itself stays; what it lacks are the safe defaults (30 K, 14 400 s, 600 s)."""
    before = dict(model or {})
    assert several.scaled_model(model, 0.5) == expected
    assert (model or {}) == before
