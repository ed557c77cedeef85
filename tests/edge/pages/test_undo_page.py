"""Undo on the page: offered for a minute, to the one who asked, and it puts back what held."""

from __future__ import annotations

from tests.edge.pages.conftest import Visit
from tests.edge.pages.double import Double

UNDO = 'action="/undo"'


def wanted(house: Double) -> tuple[float, str]:
    """What the study wants, and whose wish that is."""
    assert house.result is not None
    target = house.result.rooms["study"].target
    return target.celsius, target.whose


def test_undo_is_offered_to_who_asked_for_a_minute(visit: Visit, house: Double) -> None:
    """It stands in the room that was changed, on that phone alone, and goes after a minute."""
    ana, bo = visit(name="Ana"), visit(name="Bo")
    assert UNDO not in bo.get("/").text
    bo.post("/ask", data={"room": "study", "degrees": "19", "until": "next-step"})
    study = bo.get("/").text.partition('id="at-study"')[2].partition("</section>")[0]
    assert UNDO in study
    assert UNDO not in ana.get("/").text
    house.tick(61)
    assert UNDO not in bo.get("/").text
    assert "nothing to undo" in bo.post("/undo").text


def test_undo_puts_back_what_held(visit: Visit, house: Double) -> None:
    """Ana's wish with its end holds again, under her name, as if Bo had not asked."""
    before, until = wanted(house), house.result.rooms["study"].target.until  # type: ignore[union-attr]
    bo = visit(name="Bo")
    bo.post("/ask", data={"room": "study", "degrees": "19", "until": "in-60"})
    assert wanted(house) == (19.0, "Bo")
    assert bo.post("/undo").headers["location"] == "/#at-study"
    assert wanted(house) == before
    assert house.result.rooms["study"].target.until == until  # type: ignore[union-attr]
    assert UNDO not in bo.get("/").text


def test_all_off_is_undone_whole(visit: Visit, house: Double) -> None:
    """Undoing All off lights the spot again for the time it had left."""
    ana = visit()
    ana.post("/warm-me", data={"spot": "sewing table", "minutes": "40"})
    ana.post("/all-off")
    assert "Changed your mind?" in ana.get("/").text
    ana.post("/undo")
    house.tick(10)
    assert house.result is not None
    assert house.result.spots["sewing table"].remaining_seconds > 2000


def test_only_ones_own_last_change(visit: Visit, house: Double) -> None:
    """Nobody undoes by number what another phone did; what was replaced since is refused and says so."""
    ana, bo = visit(name="Ana"), visit(name="Bo")
    change = bo.post("/api/ask", json={"room": "study", "celsius": 19.0}).json()["change"]
    told = ana.post("/api/undo", json={"change": change})
    assert (told.status_code, told.json()["code"]) == (422, "nothing-to-undo")
    ana.post("/api/ask", json={"room": "study", "celsius": 18.0})
    late = bo.post("/api/undo", json={"change": change})
    assert (late.status_code, late.json()["code"]) == (409, "nothing-to-undo")
    assert wanted(house) == (18.0, "Ana")


def test_a_running_spot_is_made_longer(visit: Visit, house: Double) -> None:
    """While it runs there are more minutes to add, up to the owner's longest, and Stop."""
    ana = visit()
    ana.post("/warm-me", data={"spot": "sewing table", "minutes": "20"})
    page = ana.get("/").text
    assert "+ 10 min" in page
    assert 'name="minutes" value="40"' in page
    ana.post("/warm-me", data={"spot": "sewing table", "minutes": "40"})
    assert house.result is not None
    assert house.result.spots["sewing table"].remaining_seconds == 2400
    ana.post("/warm-me", data={"spot": "sewing table", "minutes": "90"})
    assert "+ 10 min" not in ana.get("/").text


def test_a_page_made_once_is_sent_again_until_something_changes(visit: Visit, house: Double) -> None:
    """Between two decisions the store is not read again; a new decision, another visitor's wish or language is seen."""
    ana = visit()
    first = ana.get("/").text
    reads = house.reads
    assert ana.get("/").text == first
    assert house.reads == reads
    visit(name="Bo").post("/ask", data={"room": "study", "degrees": "17", "until": "next-step"})
    assert "Bo asked" in ana.get("/").text
    ana.post("/degrees", data={"unit": "F"})
    assert "63°" in ana.get("/").text
