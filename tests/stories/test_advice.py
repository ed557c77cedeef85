"""Advice and wear from what a Regulator has lived through."""

from __future__ import annotations

import json
import re
from xml.etree import ElementTree

import pytest

from tests.core.body.plant import KEY, START, Bench, ColdRoom, design
from thermostatd.core.advising import counsel, sheds_watts, wear_of
from thermostatd.core.remembering import from_plain
from thermostatd.edge.pages.advice_picture import advice_picture, advice_rows

LOSS = 20.0


@pytest.fixture(scope="module")
def lived() -> Bench:
    """A room on 1500 W with its paced heater, after two days and a quarter."""
    return Bench(design(), air=ColdRoom(LOSS, seed=4, mean_celsius=7.0), tick=30.0).run(54.0)


def memory_of(bench: Bench):
    """Its memory, by way of JSON."""
    return from_plain(json.loads(json.dumps(bench.regulator.memory)))


def test_it_is_told_to_be_set_low(lived):
    """A heater whose cut-out opened on 1500 W is told to be set to 588 W, how cold that holds, and why."""
    found = counsel(lived.house, memory_of(lived), KEY)
    assert found.code == "advice-lower-opens"
    assert found.advice.best.watts == 588.0
    assert found.sentence.startswith("Set it to its 588 W setting: it will hold 22° down to -")
    assert found.sentence.endswith("on 1500 W its cut-out opens.")


def test_the_loss_of_late_is_near_the_true_one(lived):
    """What the room took for each kelvin over outdoors tells its loss within a quarter before any model is fitted."""
    found = counsel(lived.house, memory_of(lived), KEY)
    assert not found.learned_loss
    assert found.advice.loss_watts_per_kelvin == pytest.approx(LOSS, rel=0.25)


def test_a_learned_model_is_believed_first(lived):
    """A fitted model's gain gives the loss as soon as there is one."""
    memory = memory_of(lived)
    memory.models["study"] = {"gain_kelvin": 60.0, "tau_seconds": 20000.0}
    found = counsel(lived.house, memory, KEY)
    assert found.learned_loss
    assert found.advice.loss_watts_per_kelvin == pytest.approx(25.0)


def test_before_anything_is_known_there_is_no_advice():
    """A new house gets no advice out of thin air."""
    bench = Bench(design()).run(0.05)
    assert counsel(bench.house, memory_of(bench), KEY) is None
    assert counsel(bench.house, memory_of(bench), "study/none") is None


def test_after_openings_the_setting_is_advised_even_without_the_loss():
    """Openings alone are enough to advise the lower setting; what it holds is said to be unknown."""
    bench = Bench(design()).run(0.8)
    found = counsel(bench.house, memory_of(bench), KEY)
    assert found.code == "advice-opens"
    assert "not known yet" in found.sentence


def test_hours_on_a_level_prove_it():
    """Hours on 588 W prove about that much in a room of 20 °C (less, as this one is colder), and no more."""
    bench = Bench(design(), watts=588.0, air=ColdRoom(60.0), tick=20.0).run(5.0)
    assert 450.0 < sheds_watts(bench.regulator._memory.heaters[KEY]) < 640.0


def test_the_picture_is_small_and_says_the_same_in_words(lived):
    """The picture is well-formed, under 4 kB, has a title and a description, and its table has a row a setting."""
    advice = counsel(lived.house, memory_of(lived), KEY).advice
    picture = str(advice_picture(advice, "column"))
    tree = ElementTree.fromstring(picture)
    assert len(picture) < 4000
    assert [child.tag for child in tree][:2] == ["title", "desc"]
    assert "588" in tree[1].text
    assert len(advice_rows(advice)) == 3
    assert len(re.findall('class="setting', picture)) == 3
    assert 'stroke-dasharray="5 4"' in picture


def test_a_name_cannot_break_the_picture(lived):
    """A heater's name is text in the picture, whatever it is."""
    advice = counsel(lived.house, memory_of(lived), KEY).advice
    assert ElementTree.fromstring(str(advice_picture(advice, "<b>&\"'"))) is not None


def test_wear_is_of_this_season(lived):
    """Switchings, hours and openings count, and only a season of three days gives a date."""
    memory = memory_of(lived)
    wall = START.timestamp() + lived.steady
    found = wear_of(lived.house, memory, KEY, wall)
    assert found.cutout.used == 2.0
    assert found.relay.used == memory.heaters[KEY].operations / 2.0
    assert found.relay.years_left is None
    memory.season.since_wall -= 4 * 86400.0
    assert wear_of(lived.house, memory, KEY, wall).relay.years_left > 0.0
