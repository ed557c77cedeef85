"""What a learned model foretells, on the room's page: dots for the air to come, and a shade where it likely stays."""

from __future__ import annotations

import re
from dataclasses import replace

from tests.edge.pages.conftest import Visit
from tests.edge.pages.double import Double
from thermostatd.core.reasons import reason
from thermostatd.core.results import Outlook
from thermostatd.core.values import Reading

SAID = "the shade is where it most likely stays"


def _foretell(house: Double, spread: float) -> None:
    """The study's air goes up by a kelvin in two hours, give or take."""
    assert house.result is not None
    study, now = house.result.rooms["study"], house.moment().steady
    assert isinstance(study.air, Reading)
    course = tuple((now + 900.0 * k, study.air.celsius + 0.125 * k, spread) for k in range(1, 9))
    demand = replace(study.demand, outlook=Outlook(course, None, 20.0, None, None, -9.0))
    rooms = {**house.result.rooms, "study": replace(study, demand=demand)}
    house.result = replace(house.result, rooms=rooms)


def _shade(page: str) -> list[tuple[float, float]]:
    found = re.search(r'<polygon class="likely" points="([^"]+)"', page)
    return [(float(x), float(y)) for x, y in re.findall(r"([\d.]+),([\d.]+)", found.group(1))] if found else []


def test_the_room_says_how_sure_the_dots_are(visit: Visit, house: Double) -> None:
    """From the air of now on the shade opens; a forecast that was off by more has a wider one."""
    wide = []
    for spread in (0.1, 0.4):
        _foretell(house, spread)
        page = visit().get("/room/study").text
        assert SAID in page
        shade = _shade(page)
        tall = [below[1] - above[1] for above, below in zip(shade[:9], reversed(shade[9:]), strict=True)]
        assert tall[0] == 0.0
        assert all(later > 0.0 for later in tall[1:])
        wide.append(max(tall))
    assert wide[1] > wide[0]


def test_without_a_model_there_is_no_shade(visit: Visit, house: Double) -> None:
    """Nothing is told of what nobody foretells, nor on the small traces of the house's page."""
    page = visit().get("/room/study").text
    assert not _shade(page)
    assert SAID not in page
    _foretell(house, 0.2)
    assert not _shade(visit().get("/").text)


def test_the_room_says_what_was_learned_of_it(visit: Visit, house: Double) -> None:
    """In the visitor's language; and no heading before there is anything."""
    heading = "What was learned of this room"
    assert heading not in visit().get("/room/study").text
    assert house.result is not None
    known = reason("room-loses", loss=17.2, loss_low=15.4, loss_high=19.0)
    rooms = {**house.result.rooms, "study": replace(house.result.rooms["study"], knows=known)}
    house.result = replace(house.result, rooms=rooms)
    page = visit().get("/room/study").text
    assert heading in page
    assert "It loses about 17 W for each degree between it and outdoors (15 to 19)." in page
    german = visit().get("/room/study", headers={"Accept-Language": "de"}).text
    assert "Er verliert etwa 17 W je Grad Unterschied zu draußen (15 bis 19)." in german
