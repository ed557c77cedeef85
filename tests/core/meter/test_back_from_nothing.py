"""Power went to nothing early and is back: the dial on the heater, or something that lies on it."""

from __future__ import annotations

import pytest

from tests.core.guard.cases import NOW, case_of
from tests.stories.teller import study
from thermostatd.core.facts import HeaterFacts, TripFact
from thermostatd.core.meter.diagnosis import dial, elements
from thermostatd.core.meter.power import Power
from thermostatd.core.meter.warmth import tau_seconds

QUICK, SLOW = (Power(1500.0, NOW, True, True, False, slow) for slow in (False, True))
HOURS = 3600.0
OIL = study(heater="settings_watts = [1500, 600, 900]")
PLAIN = study()


def trip(before, after):
    """An opening that was seen."""
    return TripFact(0.0, 600.0, before, after)


def back(
    *cycles,
    share=0.6,
    off=1200.0,
    power=QUICK,
    proven=1000.0,
    unsure=False,
    runs=20,
    toml=PLAIN,
    about=(),
    **facts,
):
    """A heater that is back from nothing after cycles before: whether that is named its dial, and its notes."""
    about = {"runs": runs, "cycles": list(cycles)} | dict(about)
    case = case_of(toml=toml, notes={"meter": about}, facts=HeaterFacts(**facts))
    gone = {"most": share * 1000.0, "before": 1500.0}
    return dial.came_back(case, power, gone, off, proven, unsure), case.kept.notes


def test_once_is_only_counted():
    """One early fall may be anything: it is noted with its share and its rest, and nothing is named."""
    assert back(share=0.3333, off=700.4) == (
        False,
        {"meter": {"runs": 20, "cycles": [[NOW, 0.33, 700]]}},
    )


@pytest.mark.parametrize(
    ("how", "share"),
    [
        ({"runs": 2}, 0.6),
        ({"runs": 1}, 1.0),
        ({"runs": 12, "power": SLOW}, 0.6),
        ({"runs": 11, "power": SLOW}, 1.0),
        ({"proven": None}, 1.0),
        ({"toml": OIL, "runs": 1}, 0.79),
        ({"toml": OIL}, 0.6),
    ],
)
def test_early_is_said_only_of_a_heater_that_was_seen_warm_before(how, share):
    """Two runs, a dozen for a slow meter; but where a cut-out would leave an element, nothing at all is early."""
    _, notes = back(**how)
    assert notes["meter"]["cycles"][0][1] == share


def test_a_heater_never_seen_before_is_not_early():
    """Nothing noted, nothing learned."""
    case = case_of()
    dial.came_back(case, QUICK, {"most": 600.0, "before": 1500.0}, 60.0, 1000.0)
    assert case.kept.notes["meter"]["cycles"] == [[NOW, 1.0, 60]]


def test_only_the_last_six_of_three_hours_are_kept():
    """Those of long ago, and the ones before the six, are gone."""
    old, recent = [NOW - 3 * HOURS, 0.9, 1], [NOW - 3 * HOURS + 1, 0.9, 2]
    assert back(old, recent, share=0.9)[1]["meter"]["cycles"] == [recent, [NOW, 0.9, 1200]]
    many = [[NOW - 100 + n, 0.9, n] for n in range(6)]
    assert back(*many, share=0.9)[1]["meter"]["cycles"] == [*many[1:], [NOW, 0.9, 1200]]


@pytest.mark.parametrize(("first", "then"), [(300.0, 1000.0), (1000.0, 300.0)])
def test_twice_early_and_soon_back_is_the_dial(first, then):
    """The shortest rest and the warmest of the early ones count; it is told once, and the count begins anew."""
    before = [NOW - 1000, 0.5, first]
    assert back(before, [NOW - 600, 0.95, 60], share=0.6, off=then) == (
        True,
        {
            "meter": {
                "runs": 20,
                "cycles": [],
                "code": "dial-down",
                "evidence": "Power went to nothing and came back 2 times, within 5 min, "
                "at 60 % of the warmth that it has stood before.",
                "level": None,
                "share": 0.6,
            }
        },
    )


def test_twice_early_and_late_back_is_a_cover():
    """A body under a cover cools for long."""
    named, notes = back([NOW - 1000, 0.5, 1500], share=0.6, off=1200.0)
    assert not named
    assert notes["meter"] == {"runs": 20, "cycles": []}
    assert notes["covered"]["evidence"] == (
        "Power went out 2 times, at 60 % of the warmth that it has stood before, and needed 20 min to come back."
    )
    assert (notes["covered"]["tries"], notes["covered"]["unsure"]) == (1, False)


def test_what_may_be_either_is_said_so():
    """It rests, but nobody is told that it is covered for sure."""
    case = case_of(notes={"meter": {"runs": 2, "cycles": [[NOW - 1000, 0.5, 1500]]}})
    dial.came_back(case, QUICK, {"most": 600.0, "before": 1500.0}, 1200.0, 1000.0)
    assert case.kept.notes["covered"]["unsure"] is False, "where nobody says that it may be"
    named, notes = back([NOW - 1000, 0.5, 1500], unsure=True)
    assert not named
    assert notes["covered"]["unsure"] is True
    assert notes["covered"]["evidence"] == (
        "Power went out 2 times, at 60 % of the warmth that it has stood before. "
        "That does not tell yet whether something lies on it or its dial is turned down."
    )


def test_a_dial_that_was_told_is_not_called_a_cover():
    """Known to be down, it may take its time."""
    about = {"code": "dial-down", "evidence": "seen", "level": None}
    named, notes = back([NOW - 1000, 0.5, 1500], about=about)
    assert not named
    assert notes == {"meter": {"runs": 20, "cycles": [], **about}}


@pytest.mark.parametrize("share", [0.8, 0.9])
def test_from_eight_tenths_on_it_is_not_early(share):
    """Twice, and soon back, and yet nothing is named."""
    named, notes = back([NOW - 1000, share, 60], [NOW - 500, 0.5, 60], share=share, off=60.0)
    assert not named
    assert len(notes["meter"]["cycles"]) == 3


OWN_TAU = 2 * tau_seconds("oil-filled")  # a body twice as slow as usual may rest twice as long at its dial


@pytest.mark.parametrize(
    ("how", "is_dial"),
    [
        ({"off": 479.0}, True),
        ({"off": 480.0}, False),
        ({"off": 1200.0, "share": 0.44}, True),
        ({"off": 1200.0, "share": 0.45}, False),
        ({"off": 1199.0, "body_tau_seconds": OWN_TAU}, True),
        ({"off": 1201.0, "body_tau_seconds": OWN_TAU}, False),
        ({"off": 1201.0, "share": 0.44, "body_tau_seconds": OWN_TAU}, False),
        ({"off": 60.0, "power": SLOW}, False),
        ({"off": 1200.0, "toml": OIL}, True),
        ({"off": 1200.0, "power": SLOW, "toml": OIL}, True),
        ({"off": 1200.0, "trips": [trip(1350.0, 588.0)]}, True),
        ({"off": 1200.0, "trips": [trip(1350.0, 588.0), trip(1500.0, 0.0)]}, False),
        ({"off": 1200.0, "trips": [trip(600.0, 300.0)]}, False),
        ({"off": 1200.0, "trips": [trip(1500.0, 0.0)]}, False),
        ({"off": 60.0, "trips": [trip(1500.0, 0.0)], "toml": OIL}, True),
        ({"off": 1200.0, "trips": [trip(1500.0, 0.0)], "toml": OIL}, False),
    ],
)
def test_a_dial_closes_soon_and_a_cut_out_late_or_on_its_low_element(how, is_dial):
    """Ten minutes of a usual body, eight or far under what it stood while nothing is learned; what its cut-out left
    before decides, and a slow meter does not tell how soon."""
    share = how.get("share", 0.6)
    named, notes = back([NOW - 1000, min(share, 0.4), 5000], **how)
    assert named is is_dial
    assert ("covered" in notes) is not is_dial


@pytest.mark.parametrize(
    ("watts", "how", "leaves", "lowest"),
    [
        (600.0, {}, True, True),
        (660.0, {}, True, True),
        (690.0, {}, False, False),
        (900.0, {}, False, False),
        (1500.0, {}, True, False),
        (1340.0, {}, True, False),
        (1500.0, {"trips": [trip(1500.0, 0.0)]}, False, False),
        (1500.0, {"trips": [trip(1350.0, 0.0), trip(1350.0, 588.0)]}, True, False),
        (1500.0, {"trips": [trip(900.0, 0.0)]}, True, False),
        (1500.0, {"toml": study(heater="settings_watts = [600, 1500]")}, True, False),
        (600.0, {"toml": study(heater="settings_watts = [600]")}, False, False),
        (600.0, {"toml": study(heater='kind = "panel"\nsettings_watts = [600, 1500]')}, False, False),
        (600.0, {"toml": PLAIN}, False, False),
    ],
)
def test_an_oil_filled_heater_keeps_an_element_at_its_lowest_and_its_highest(watts, how, leaves, lowest):
    """The lowest setting has no cut-out, the highest falls back to it, until openings to nothing outnumber others."""
    trips = how.get("trips", [])
    case = case_of(toml=how.get("toml", OIL), facts=HeaterFacts(trips=trips))
    assert elements.leaves_an_element(case, watts) is leaves
    assert elements.has_no_cut_out(case, watts) is lowest


def test_of_a_power_that_is_not_known_nothing_is_said():
    """None leaves nothing."""
    assert not elements.leaves_an_element(case_of(toml=OIL), None)
