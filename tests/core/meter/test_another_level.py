"""Another power from switch-on, or in the middle of a run: the selector, an element, or one cannot tell."""

from __future__ import annotations

import pytest

from tests.core.guard.cases import NOW, case_of
from tests.stories.teller import study
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.meter.diagnosis import another_level, naming
from thermostatd.core.meter.power import Power
from thermostatd.core.results import Verdict

QUICK, SLOW = (Power(1500.0, NOW, True, True, False, slow) for slow in (False, True))
ROUGH = Power(1500.0, NOW, False, True, False, False)
PLAIN = study()
THREE = study(heater="settings_watts = [600, 900, 1500]")
ONE = study(heater="settings_watts = [1500]")
TWO = study(heater="settings_watts = [600, 1500]")
FELL = "It fell from 1500 W to {:.0f} W"
ELEMENT = FELL + ", cold too, and that is none of its settings."
LESS = FELL + ", and stays there though it has cooled."
LESS_IN_RUN = FELL + " in the middle of a run, and stays there though it has cooled."
SELECTOR = "It came on with {:.0f} W instead of 1500 W; that is one of its settings."
TOLD = {"evidence": "as seen", "level": 900.0}


def after(tell, about, toml=PLAIN):
    """What is noted of the meter once this was told of a heater of which that was noted; and what telling gave."""
    case = case_of(toml=toml, notes={"meter": dict(about)})
    return tell(case), case.kept.notes["meter"]


def begun(level, about, toml=PLAIN, power=QUICK, opened=None, warm=False):
    """The same of a run that began on a level."""
    return after(lambda case: another_level.began(case, power, level, opened, warm), about, toml)


def test_the_first_run_tells_what_is_usual():
    """To a tenth of a watt."""
    assert begun(1500.26, {}) == (False, {"usual": 1500.3, "runs": 1})
    assert begun(1500.0, {"usual": 1500.0, "runs": 99})[1]["runs"] == 99


@pytest.mark.parametrize(
    ("level", "power", "same"),
    [(1400.0, QUICK, True), (1390.0, QUICK, False), (1310.0, ROUGH, True), (1300.0, ROUGH, False)],
)
def test_what_is_usual_follows_slowly(level, power, same):
    """7 % where volts are told, 13 % where they are not, are no other level."""
    _, about = begun(level, {"usual": 1500.0, "runs": 5}, power=power)
    assert (about["usual"] == level) is same
    assert ("code" not in about) is same


@pytest.mark.parametrize("code", ["element-out", "selector-moved", "less-power"])
def test_back_on_its_usual_power_nothing_is_wrong_any_more(code):
    """What was told of another level is taken back, at a switch-on, in a run, or by a run too short to say more."""
    about = {"usual": 1500.0, "runs": 5, "code": code, "low": [900.0, 2], **TOLD}
    assert begun(1500.0, about) == (False, {"usual": 1500.0, "runs": 6})
    assert after(lambda case: another_level.rose(case, QUICK, 1420.0), about)[1] == {
        "usual": 1500.0,
        "runs": 5,
    }
    assert after(lambda case: another_level.flowed(case, 1420.0, True), about)[1] == {"usual": 1500.0, "runs": 5}


def test_its_usual_power_says_nothing_of_its_dial():
    """A dial turned down stays named, but a low level that was counted is over."""
    dial = {"usual": 1500.0, "runs": 5, "code": "dial-down", "evidence": "as seen", "level": None}
    assert begun(1500.0, dial | {"low": [900.0, 1]}) == (False, dial | {"runs": 6})
    assert after(lambda case: another_level.rose(case, QUICK, 1500.0), dial)[1] == dial
    assert after(lambda case: another_level.flowed(case, 1500.0, True), dial)[1] == dial


def moved(level, usual):
    """That the selector was moved up."""
    why = f"It draws {level:.0f} W instead of {usual:.0f} W."
    return {"code": "selector-moved", "evidence": why, "level": level}


@pytest.mark.parametrize(
    "tell",
    [
        lambda case: another_level.began(case, QUICK, 1500.0, None, False),
        lambda case: another_level.rose(case, QUICK, 1500.0),
        lambda case: another_level.flowed(case, 1500.0, True),
    ],
)
def test_more_than_usual_is_the_selector(tell):
    """However it is seen; but while little was seen of a heater without settings, it is what is usual."""
    about = {"usual": 900.0, "runs": 3}
    assert not after(tell, about)[0]
    found = after(tell, about)[1]
    assert {**found, "runs": 3} == about | moved(1500.0, 900.0)
    found = after(tell, {"usual": 900.0, "runs": 1})[1]
    assert (found["usual"], "code" in found) == (1500.0, False)
    found = after(tell, {"usual": 900.0, "runs": 1}, THREE)[1]
    assert (found["usual"], found["code"]) == (900.0, "selector-moved")


def test_too_little_was_seen_for_two_runs():
    """The third names it; and where something was named already, that was enough."""

    def more(case):
        return another_level.rose(case, QUICK, 1500.26)

    assert after(more, {"usual": 900.0, "runs": 2})[1] == {"usual": 1500.3, "runs": 2}
    assert after(more, {"usual": 900.0, "runs": 3})[1]["code"] == "selector-moved"
    assert (
        after(more, {"usual": 900.0, "runs": 2, "code": "less-power", **TOLD})[1]["code"] == "selector-moved"
    )


@pytest.mark.parametrize(
    ("level", "exact", "told"), [(1410.0, True, "as seen"), (1380.0, True, "It draws 1380 W instead of 600 W."),
                                 (1380.0, False, "as seen")],
)  # fmt: skip
def test_a_selector_that_was_told_is_told_anew_only_for_another_level(level, exact, told):
    """As far as the meter can tell levels apart."""
    about = {"usual": 600.0, "runs": 9, "code": "selector-moved", "evidence": "as seen", "level": 1500.0}
    power = QUICK if exact else ROUGH
    for tell in (
        lambda case: another_level.flowed(case, level, exact),
        lambda case: another_level.rose(case, power, level),
        lambda case: another_level.began(case, power, level, None, False),
    ):
        assert after(tell, about)[1]["evidence"] == told


def test_another_trouble_on_that_level_is_no_moved_selector_told():
    """Only what was told of the selector is not told again."""
    about = {"usual": 600.0, "runs": 9, "code": "less-power", "evidence": "as seen", "level": 1500.0}
    assert after(lambda case: another_level.flowed(case, 1500.0, True), about)[1]["code"] == "selector-moved"


def test_less_than_usual_says_nothing_of_a_short_run_or_of_a_rise():
    """At least so much flowed; and from nothing to less than usual is for the next switch-on to tell."""
    about = {"usual": 1500.0, "runs": 9, "code": "less-power", "evidence": "as seen", "level": 900.0}
    for watts in (900.0, 1380.0):
        assert after(lambda case, watts=watts: another_level.flowed(case, watts, True), about)[1] == about
        assert after(lambda case, watts=watts: another_level.rose(case, QUICK, watts), about)[1] == about


def test_where_nothing_is_usual_yet_nothing_is_more():
    """A short run does not tell what is usual, and a rise clears what was told."""
    assert after(lambda case: another_level.flowed(case, 1500.0, True), {})[1] == {}
    about = {"code": "less-power", **TOLD}
    assert after(lambda case: another_level.rose(case, QUICK, 1500.0), about)[1] == {}


OPENED = {"after": 580.0}


@pytest.mark.parametrize(
    ("level", "toml", "power", "opened", "code", "evidence"),
    [
        (700.0, THREE, QUICK, None, "element-out", ELEMENT),
        (700.0, TWO, QUICK, None, "element-out", ELEMENT),
        (700.0, TWO, QUICK, {"after": 700.0}, "element-out", ELEMENT),
        (660.0, THREE, QUICK, None, "selector-moved", SELECTOR),
        (600.0, TWO, QUICK, None, "selector-moved", SELECTOR),
        (600.0, THREE, QUICK, OPENED, "less-power", LESS_IN_RUN),
        (600.0, THREE, QUICK, {"after": 900.0}, "selector-moved", SELECTOR),
        (650.0, THREE, QUICK, OPENED, "selector-moved", SELECTOR),
        (650.0, THREE, ROUGH, OPENED, "less-power", LESS_IN_RUN),
        (600.0, THREE, SLOW, None, "less-power", LESS),
        (700.0, THREE, SLOW, None, "element-out", ELEMENT),
        (700.0, ONE, QUICK, None, "less-power", LESS),
        (700.0, PLAIN, QUICK, None, "less-power", LESS),
        (700.0, PLAIN, QUICK, {"after": 700.0}, "less-power", LESS_IN_RUN),
    ],
)
def test_less_from_switch_on_of_a_cold_body(level, toml, power, opened, code, evidence):
    """None of its settings: an element; one of them between two runs: the selector; else one cannot know. It was no
    opening if that left this level."""
    about = {"usual": 1500.0, "runs": 5} | ({"low": [level, 1]} if power.slow else {})
    was_none, found = begun(level, about, toml, power, opened)
    assert was_none is (evidence == LESS_IN_RUN or (code == "element-out" and opened is not None))
    assert found == {
        "usual": 1500.0, "runs": 6, "low": [level, 2 if power.slow else 1],
        "code": code, "evidence": evidence.format(level), "level": level,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("sank", "code"), [(510.0, "less-power"), (900.0, "less-power"), (509.9, "selector-moved"), (0.0, "selector-moved")]
)
def test_a_run_that_ended_with_less_power_may_have_lost_an_element(sank, code):
    """One report of the run before was on its way to this level, within 15 %: it fell while on, as no selector is
    seen to be turned between two runs. It was no opening, so that there is none to take back."""
    case = case_of(toml=THREE, notes={"meter": {"usual": 1500.0, "runs": 5}, "cut-out": {"sank": sank}})
    assert another_level.began(case, QUICK, 600.0, None, warm=False) is False
    assert case.kept.notes["meter"]["code"] == code


def test_a_slow_meter_has_to_see_it_twice():
    """Once is counted, another level is counted anew."""
    about = {"usual": 1500.0, "runs": 5}
    assert begun(700.26, about, power=SLOW) == (False, about | {"runs": 6, "low": [700.3, 1]})
    other = about | {"low": [1000.0, 1]}
    assert begun(700.0, other, power=SLOW) == (False, about | {"runs": 6, "low": [700.0, 1]})
    assert begun(740.0, about | {"low": [700.0, 1]}, power=SLOW)[1]["low"] == [740.0, 2]
    assert begun(760.0, about | {"low": [700.0, 1]}, power=SLOW)[1]["low"] == [760.0, 1]


def test_a_warm_body_on_less_says_nothing():
    """Its cut-out may be open yet."""
    about = {"usual": 1500.0, "runs": 5}
    assert begun(700.0, about, opened=OPENED, warm=True) == (False, about | {"runs": 6})


def test_a_level_that_was_told_is_not_told_again():
    """Near it all stays; further down it is told anew, and its dial has no level."""
    about = {"usual": 1500.0, "runs": 5, "code": "less-power", "evidence": "as seen", "level": 900.0}
    assert begun(850.0, about) == (False, about | {"runs": 6})
    assert begun(830.0, about)[1]["level"] == 830.0
    assert begun(790.0, about, power=ROUGH)[1] == about | {"runs": 6}
    dial = {"usual": 1500.0, "runs": 5, "code": "dial-down", "evidence": "as seen", "level": None}
    assert begun(850.0, dial)[1]["code"] == "less-power"


@pytest.mark.parametrize(
    ("notes", "dial", "less"),
    [
        ({}, False, False),
        ({"meter": {}}, False, False),
        ({"meter": {"code": "dial-down"}}, True, False),
        ({"meter": {"code": "element-out"}}, False, True),
        ({"meter": {"code": "selector-moved"}}, False, True),
        ({"meter": {"code": "less-power"}}, False, True),
    ],
)
def test_what_is_known_of_it_is_its_dial_or_its_level(notes, dial, less):
    """One or the other, or nothing; what is known is told as a trouble that takes no heat away."""
    for about in notes.values():
        about["evidence"] = "as seen"
    kept = HeaterMemory(notes=notes)
    assert (naming.is_dial(kept), naming.is_less(kept)) == (dial, less)
    code = notes.get("meter", {}).get("code")
    assert naming.advice(kept) == (
        Verdict(code, False, trouble=True, evidence="as seen") if code else None
    )
