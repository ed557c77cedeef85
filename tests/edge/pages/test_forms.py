"""The page without a script: forms, then 303; a refusal stands beside its field."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from html import unescape
from pathlib import Path

import pytest

from tests.edge.pages.conftest import Visit
from tests.edge.pages.double import Double, house_of
from thermostatd.core.asking import NO_END, AllOff, Ask, Cancel, Out, RoomOff, WarmMe
from thermostatd.core.results import Trouble

HOUSE_TEXT = (Path(__file__).parent / "house.toml").read_text()


def ask(**fields: str) -> dict[str, str]:
    """The study's form, filled in."""
    return {"room": "study", "degrees": "21", "until": "next-step", **fields}


def test_the_page_shows_every_room_and_spot(visit: Visit) -> None:
    """Name, air, reason, whose wish, and an end are in the page for each room."""
    page = visit().get("/").text
    for word in ("Study", "Long room", "Back bedroom", "Hall", "Sewing table", "Ana asked", "until 18:00",
                 "The usual week", "−2.1°&nbsp;outside", "<span class=\"wide-only\">Mon </span>16:12"):  # fmt: skip
        assert word in page


def test_a_good_form_goes_back_to_its_room(visit: Visit, house: Double) -> None:
    """POST, then 303 to the room: reloading asks nothing again."""
    answer = visit().post("/ask", data=ask())
    assert (answer.status_code, answer.headers["location"]) == (303, "/#at-study")
    assert house.result is not None
    assert house.result.rooms["study"].target.celsius == 21


@pytest.mark.parametrize(
    ("until", "minutes"), [("in-60", 60), ("in-180", 180), ("evening", 348), ("keep", 108)]
)
def test_ends_in_words(visit: Visit, house: Double, until: str, minutes: int) -> None:
    """1 hour, 3 hours, this evening, and the end that holds already (16:12 now, Ana's until 18:00)."""
    visit().post("/ask", data=ask(until=until))
    asked = house.asked[-1]
    assert isinstance(asked, Ask)
    assert asked.until == house.wall + timedelta(minutes=minutes)


def test_a_time_is_its_next_coming(visit: Visit, house: Double) -> None:
    """A time of day means the next time that the house's clocks show it."""
    visit().post("/ask", data=ask(until="at", at="07:30") | {"room": "back bedroom", "degrees": "18"})
    asked = house.asked[-1]
    assert isinstance(asked, Ask)
    assert str(asked.until) == "2026-01-13 07:30:00+01:00"
    visit().post("/out", data={"until": "no-end", "at": ""})
    assert house.asked[-1] == Out(NO_END, "Ana", origin="phone Ana")


@pytest.mark.parametrize(
    ("fields", "status", "said"),
    [
        ({"degrees": "29"}, 422, "22.0° is the warmest"),
        ({"degrees": "warm"}, 422, "Write the degrees as a number"),
        ({"degrees": "nan"}, 422, "Write the degrees as a number"),
        ({"until": "at", "at": ""}, 422, "hours and minutes"),
        ({"until": "at", "at": "25:00"}, 422, "hours and minutes"),
        ({"until": "at", "at": "16:00"}, 422, "at most"),
        ({"until": "whenever"}, 422, "is no end"),
    ],
)
def test_a_refusal_stands_beside_the_field(
    visit: Visit, fields: dict[str, str], status: int, said: str
) -> None:
    """The page comes again with the message in that room, what was typed kept, and its panel open."""
    answer = visit().post("/ask", data=ask(**fields))
    assert answer.status_code == status
    study = answer.text.partition('id="at-study"')[2].partition("</section>")[0]
    assert said in study
    assert "<details" in study
    assert " open>" in study
    assert f'value="{ask(**fields)["degrees"]}"' in study


@pytest.mark.parametrize("body", ["room=study&room=hall&degrees=20", "room=study&degrees=20&who=Bo", "degrees=20",
                                  "room=attic&degrees=20", "\xff", "&".join(f"a{k}=1" for k in range(30))])  # fmt: skip
def test_unknown_and_doubled_fields_are_refused(visit: Visit, house: Double, body: str) -> None:
    """A form has its fields once and no others."""
    answer = visit().post("/ask", content=body, headers={"content-type": "application/x-www-form-urlencoded"})
    assert answer.status_code == 422
    assert house.asked == []


def test_usual_takes_the_wish_back_and_twice_is_fine(visit: Visit, house: Double) -> None:
    """Back to the usual week; the same form sent twice does no harm."""
    phone = visit()
    assert ">Usual<" in phone.get("/").text
    for _ in range(2):
        assert phone.post("/cancel", data={"what": "study"}).status_code == 303
    assert house.asked[-1] == Cancel("study", "Ana", origin="phone Ana")
    assert ">Usual<" not in phone.get("/").text


def test_all_off_and_on_again(visit: Visit) -> None:
    """One tap; then the page says who and when, and offers the way back."""
    phone = visit()
    phone.post("/all-off")
    page = phone.get("/").text
    assert "Everything is off." in page
    assert "Ana said so at 16:12." in page
    assert "Turn heating on again" in page
    phone.post("/cancel", data={"what": "all-off"})
    assert "Everything is off." not in phone.get("/").text


def test_everyone_out_and_back(visit: Visit) -> None:
    """Out until a time, said at the top, with the way back."""
    phone = visit()
    phone.post("/out", data={"until": "at", "at": "19:00"})
    page = phone.get("/").text
    assert "Everyone is out until 19:00." in page
    assert "Someone is back" in page


def test_a_return_is_moved_without_coming_back(visit: Visit, house: Double) -> None:
    """From the line that says who is out until when; a time that is over is refused there, and the first one holds."""
    phone = visit()
    phone.post("/out", data={"until": "at", "at": "19:00"})
    assert "Change the return time" in phone.get("/").text
    refused = phone.post("/out", data={"until": "at", "day": "0", "at": "16:00"})
    assert "16:00 is over today." in refused.text
    assert "Everyone is out until 19:00." in refused.text
    phone.post("/out", data={"until": "typed", "day": "1", "at": "16:00"})
    assert "Everyone is out until Tue 16:00." in phone.get("/").text
    phone.post("/out", data={"until": "no-end"})
    page = phone.get("/").text
    assert "Set a return time" in page
    assert "someone says they are back" not in page  # that holds already
    phone.post("/undo")
    assert "Everyone is out until Tue 16:00." in phone.get("/").text
    assert not any(isinstance(one, Cancel) for one in house.asked)


def later(**fields: str) -> dict[str, str]:
    """The study's form for later, filled in."""
    return {"room": "study", "degrees": "21", "day": "0", "at": "18:30", "end": "22:30", **fields}


def test_a_wish_for_later_waits_and_is_taken_back(visit: Visit, house: Double) -> None:
    """From the room's page, where it stands until it begins; the house page tells of the soonest."""
    phone = visit()
    answer = phone.post("/ask-later", data=later())
    assert (answer.status_code, answer.headers["location"]) == (303, "/room/study")
    phone.post("/ask-later", data=later(day="2", at="07:00", end="", degrees="19,5"))
    house.tick(10.0)
    page = phone.get("/room/study").text
    waits = page.partition("Asked for later")[2].partition("</ul>")[0]
    for word in ("21.0°</b> from 18:30 until 22:30", "Ana asked", "19.5°</b> from Wed 07:00", "Take back"):
        assert word in waits
    assert "<td>18:30</td><td>21.0°</td>" in page
    assert "21.0° from 18:30" in phone.get("/").text
    key = re.findall(r'name="begins" value="([^"]+)"', waits)[0]
    back = phone.post("/cancel", data={"what": "study", "begins": key})
    assert (back.status_code, back.headers["location"]) == (303, "/room/study")
    house.tick(10.0)
    assert "21.0° from 18:30" not in phone.get("/").text
    assert phone.post("/cancel", data={"what": "study", "begins": key}).status_code == 303  # sent twice


def test_a_wish_past_midnight_ends_the_day_after(visit: Visit, house: Double) -> None:
    """Its end is the next such time after its begin."""
    visit().post("/ask-later", data=later(day="1", at="22:00", end="06:30"))
    asked = house.asked[-1]
    assert isinstance(asked, Ask)
    assert (str(asked.begins), str(asked.until)) == ("2026-01-13 22:00:00+01:00", "2026-01-14 06:30:00+01:00")


@pytest.mark.parametrize(
    ("fields", "field", "said"),
    [
        ({"degrees": ""}, "degrees", "Write the degrees"),
        ({"degrees": "29"}, "degrees", "22.0° is the warmest"),
        ({"at": ""}, "at", "hours and minutes"),
        ({"at": "16:00"}, "at", "16:00 is over today."),
        ({"end": "soon"}, "end", "hours and minutes"),
        ({"at": "23:00", "end": "22:00"}, "degrees", "may hold for"),
    ],
)
def test_what_cannot_wait_is_said_at_its_field(
    visit: Visit, house: Double, fields: dict[str, str], field: str, said: str
) -> None:
    """On the room's page, with what was typed."""
    sent = later(**fields)
    answer = visit().post("/ask-later", data=sent)
    assert answer.status_code == 422
    panel = answer.text.partition('id="later" open')[2].partition("</details>")[0]
    assert said in panel
    wrong = re.search(r'name="(\w+)"[^>]* aria-invalid="true" aria-describedby="later-msg"', panel)
    assert wrong is not None
    assert wrong[1] == field
    assert f'value="{sent["degrees"]}"' in panel
    assert house.result is not None
    assert house.result.rooms["study"].target.later == ()


def test_one_room_is_off_alone(visit: Visit, house: Double) -> None:
    """From the room's page; the house page says whose word it is, for how long, and turns it on again."""
    phone = visit()
    assert "Turn this room off" in phone.get("/room/study").text
    answer = phone.post("/room-off", data={"room": "study", "until": "at", "day": "0", "at": "19:00"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/room/study")
    house.tick(10.0)
    study = phone.get("/").text.partition('id="at-study"')[2].partition("</section>")[0]
    assert "<b>Off</b><small>until 19:00" in study
    for word in ("This room is off.", "Ana turned it off", "Turn the study on again", "Undo"):
        assert word in study
    assert "Warmer" not in study
    page = phone.get("/room/study").text
    assert "Turn the study on again" in page
    assert "Turn this room off" not in page
    assert phone.get("/api/house").json()["rooms"][0]["target"]["code"] == "room-off"
    phone.post("/cancel", data={"what": "study"})
    assert "This room is off." not in phone.get("/").text


def test_on_a_rooms_own_page_all_leads_back_to_it(visit: Visit, house: Double) -> None:
    """What is asked, taken back and undone there; a refusal stands there, beside what was typed."""
    phone, here = visit(), {"page": "room"}
    ask = {"room": "study", "degrees": "21", "until": "keep", "unit": "C"} | here
    for path, fields in (
        ("/ask", ask), ("/undo", {"room": "study"} | here), ("/ask", ask), ("/cancel", {"what": "study"} | here),
    ):  # fmt: skip
        answer = phone.post(path, data=fields)
        assert (answer.status_code, answer.headers["location"]) == (303, "/room/study"), path
        house.tick(10.0)
    refused = phone.post("/ask", data=ask | {"degrees": "29", "until": "in-60"})
    assert refused.status_code == 422
    assert "<h1 id=\"name\">Study</h1>" in refused.text
    bar = refused.text.partition('<div class="bar">')[2].partition("</details>")[0]
    assert "22.0° is the warmest" in bar
    assert 'value="29"' in bar
    assert phone.post("/ask", data=ask | {"page": "elsewhere"}).headers["location"] == "/#at-study"


@pytest.mark.parametrize(("until", "at"), [("at", ""), ("at", "16:00"), ("typed", ""), ("never", "")])
def test_an_end_that_cannot_be_is_said_on_the_rooms_page(visit: Visit, house: Double, until: str, at: str) -> None:
    """Beside the choice, with what was typed; nothing is turned off."""
    answer = visit().post("/room-off", data={"room": "study", "until": until, "day": "0", "at": at})
    assert answer.status_code == 422
    panel = answer.text.partition('id="off" open')[2].partition("</details>")[0]
    assert 'role="alert"' in panel
    assert f'name="at" value="{at}"' in panel
    assert not any(isinstance(one, RoomOff) for one in house.asked)


def test_a_room_that_is_not_there_is_not_turned_off(visit: Visit) -> None:
    """There is no page to say it on."""
    assert visit().post("/room-off", data={"room": "attic", "until": "no-end"}).status_code == 404


@pytest.mark.parametrize(
    ("day", "at", "until"),
    [
        ("0", "18:00", "2026-01-12 18:00:00+01:00"),
        ("", "16:00", "2026-01-13 16:00:00+01:00"),
        ("1", "16:00", "2026-01-13 16:00:00+01:00"),
        ("6", "18:00", "2026-01-18 18:00:00+01:00"),
        ("7", "18:00", "2026-01-12 18:00:00+01:00"),
        ("x", "18:00", "2026-01-12 18:00:00+01:00"),
    ],
)
def test_everyone_is_out_until_a_time_of_another_day(
    visit: Visit, house: Double, day: str, at: str, until: str
) -> None:
    """A weekend away ends on Sunday at six; it is Monday, 16:12."""
    visit().post("/out", data={"until": "at", "day": day, "at": at})
    asked = house.asked[-1]
    assert isinstance(asked, Out)
    assert str(asked.until) == until


@pytest.mark.parametrize("at", ["16:00", "16:12", "00:01"])
def test_a_time_of_today_that_is_over_is_refused(visit: Visit, house: Double, at: str) -> None:
    """It is 16:12: who chose today is not out until tomorrow; what was typed stays."""
    answer = visit().post("/out", data={"until": "at", "day": "0", "at": at})
    assert answer.status_code == 422
    assert f"{at} is over today." in answer.text
    assert f'name="at" value="{at}"' in answer.text
    assert house.asked == []


def steps_on(page: str) -> list[str]:
    """What a room's page lists under "What comes"."""
    listed = page.partition("What comes</h2>")[2].partition("</table>")[0]
    return [" ".join(re.findall(r">([^<>\n]+)<", row)) for row in listed.split("<tr>")[2:]]


def test_what_comes_while_everyone_is_out_is_their_return(visit: Visit) -> None:
    """The week's steps before it do not come: it is Monday, and they are back on Wednesday at six."""
    phone = visit()
    assert steps_on(phone.get("/room/study").text)[0].startswith("18:00")
    phone.post("/out", data={"until": "at", "day": "2", "at": "18:00"})
    there = steps_on(phone.get("/room/study").text)
    assert there[0].startswith("Wed 18:00")
    assert all(not step.startswith(("Tue", "22:00")) for step in there)
    phone.post("/cancel", data={"what": "out"})
    phone.post("/out", data={"until": "no-end", "at": ""})
    assert steps_on(phone.get("/room/study").text) == []


def test_the_days_of_a_week_can_be_chosen_and_stay_chosen_after_a_refusal(visit: Visit) -> None:
    """Today and the six after it."""
    phone = visit()
    form = phone.get("/").text.partition('action="/out"')[2].partition("</form>")[0]
    assert re.findall(r'<option value="\d">(\w+)<', form) == [
        "today",
        "Tue",
        "Wed",
        "Thu",
        "Fri",
        "Sat",
        "Sun",
    ]
    again = phone.post("/out", data={"until": "at", "day": "6", "at": "soon"})
    assert again.status_code == 422
    assert '<option value="6" selected>Sun<' in again.text


def test_warm_me_counts_down_and_stops(visit: Visit, house: Double) -> None:
    """A spot shows the minutes that remain, a caution, and Stop."""
    phone = visit()
    assert phone.post("/warm-me", data={"spot": "sewing table", "minutes": "20"}).status_code == 303
    assert isinstance(house.asked[-1], WarmMe)
    house.tick(300)
    page = phone.get("/").text
    assert re.search(r"15<small> min", page)
    assert "One metre clear" in page
    phone.post("/cancel", data={"what": "sewing table"})
    assert "Warm me here for" in phone.get("/").text
    assert "at most" in phone.post("/warm-me", data={"spot": "sewing table", "minutes": "95"}).text


def test_fahrenheit_is_a_way_of_showing_and_asking(visit: Visit, house: Double) -> None:
    """A device that chose °F sees and asks °F; °C stays inside."""
    phone = visit()
    phone.post("/degrees", data={"unit": "F"})
    page = phone.get("/").text
    assert "69°" in page
    assert "59° to 72°" in page
    phone.post("/ask", data=ask(degrees="70", unit="F"))
    asked = house.asked[-1]
    assert isinstance(asked, Ask)
    assert asked.celsius == pytest.approx(21.11)  # (70 - 32) / 1.8, derived


def test_what_is_old_says_so(visit: Visit, house: Double) -> None:
    """A view over a minute old, and a broker that is away, are said in words."""
    house.age_seconds, house.broker_up, house.notes = 400, False, ("The store cannot write.",)
    page = visit().get("/").text
    assert "What you see is from 16:05" in page
    assert "broker is away" in page
    assert "The store cannot write." in page
    assert "switches itself off" in page
    assert "Go and look" not in page


def test_a_broker_told_as_a_trouble_is_not_said_twice(visit: Visit, house: Double) -> None:
    """Once the trouble stands below, the lines at the top leave it."""
    house.broker_up = False
    assert "cannot be heard" in visit().get("/").text
    at = house.moment().wall
    house.troubles = (Trouble("house/broker-away", "broker-away", "what", "evidence", "to do", at, loud=True),)
    house.decide()
    assert "cannot be heard" not in visit().get("/").text


def test_told_off_and_seen_on(visit: Visit, house: Double) -> None:
    """A heater whose contact last showed on is not called off, on the room's page and the owner's."""
    house.regulator.do(house.moment(), AllOff("Ana"))
    house.tick()
    assert "Told OFF, last seen ON." not in visit().get("/room/study").text
    for _ in range(3):
        house.on["study/column"] = True
        house.tick()
    assert "Told OFF, last seen ON." in visit().get("/room/study").text
    assert "Told OFF, last seen ON." in visit("owner", name="Bo").get("/owner/heaters").text


def test_a_plug_without_a_timer_is_named_while_the_broker_is_away(visit: Visit, house: Double) -> None:
    """Nothing ends its heat then: the page sends somebody to it, and says of no other that it stays on."""
    timer = 'tell = "plug/2/set", timer = { payload = "true {seconds}" }'
    house.house = house_of(HOUSE_TEXT.replace(timer, 'tell = "plug/2/set", no_self_off = "accepted"'))
    house.broker_up = False
    page = unescape(visit().get("/").text)
    assert "Go and look at long room/column: the plug has no timer" in page
    house.broker_up = True
    assert "Go and look" not in visit().get("/").text


def test_troubles_stand_at_the_top_loud_first(visit: Visit, house: Double) -> None:
    """A loud trouble comes first, with evidence and what to do; only the owner gets the button."""
    quiet = Trouble("battery-low/study", "battery-low", "Battery <low>.", "8 %.", "Change it.", house.wall)
    loud = Trouble("welded", "drawing-while-off", "It carries power.", "588 W.", "Pull it out.", house.wall,
                   loud=True, latched=True)  # fmt: skip
    house.troubles = (quiet, loud)
    house.decide()
    page = visit().get("/").text
    assert page.index("It carries power.") < page.index("Battery &lt;low&gt;.") < page.index("Study")
    assert "588 W." in page
    assert "I have looked at it" not in page
    assert "I have looked at it" in visit("owner").get("/").text


def test_troubles_of_one_kind_say_once_what_to_do(visit: Visit, house: Double) -> None:
    """Three heaters at their cut-outs are one box with three lines, each with its button: else no room is in sight."""
    told = Trouble("", "dial-down", "A dial is down.", "", "Turn it up.", house.wall)
    flat = [replace(told, id=f"{key}/dial-down", evidence=f"So is {key}.") for key in ("hall/a", "study/b", "hall/c")]
    other = replace(told, id="study/battery-low", code="battery-low", what="A battery.", what_to_do="Change it.")
    house.troubles = (flat[0], other, flat[1], replace(flat[2], what_to_do="Replace it."))
    house.decide()
    page = visit("owner").get("/").text
    boxes = [box.partition("</section>")[0] for box in page.split('<section class="say trouble')[1:]]
    assert [box.count("<h2>") for box in boxes] == [1, 1, 1]
    assert [one in boxes[0] for one in ("So is hall/a.", "So is study/b.", "So is hall/c.")] == [True, True, False]
    assert [box.count("I have looked at it") for box in boxes] == [2, 1, 0]
    assert page.count("Turn it up.") == 1


def test_a_missing_reading_is_no_number(visit: Visit, house: Double) -> None:
    """A room without a good reading shows that, never a zero."""
    house.silent.add("hall")
    for _ in range(40):
        house.tick()
    page = visit().get("/").text
    hall = page.partition('id="at-hall"')[2].partition("</section>")[0]
    assert "no reading" in hall
    assert "No good temperature" in hall


def test_a_room_page_has_the_trace_as_a_table(visit: Visit) -> None:
    """Everything drawn can also be read: the last day by the hour, and what comes."""
    page = visit().get("/room/study").text
    assert page.count("<tr>") > 20
    for word in ("The last day", "What comes", "16:00", "Column"):
        assert word in page
