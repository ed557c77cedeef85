"""The second language is complete and true to the first; times and numbers are written as CLDR has them (by babel)."""

from __future__ import annotations

import ast
import gettext
import re
import string
from datetime import datetime
from html import unescape
from io import BytesIO
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from babel import Locale
from babel.dates import get_day_names, get_month_names
from babel.messages import mofile, pofile
from babel.numbers import get_decimal_symbol

from tests.edge.pages.conftest import Visit
from tests.edge.pages.double import Double
from tests.edge.pages.msgids import ROOT, everything, in_python
from thermostatd.core.house import Broker
from thermostatd.core.reasons import sentence
from thermostatd.core.said import When, said
from thermostatd.edge.broker_client import sentence_of_fault
from thermostatd.edge.pages import words
from thermostatd.edge.pages.catalogues import Catalogues, packed, read_po
from thermostatd.edge.pages.door import FileLook
from thermostatd.edge.pages.speech import (
    DAYS,
    DECIMALS,
    LONG_DAYS,
    MONTHS,
    TWELVE_HOURS,
    Speech,
    chosen_language,
    preferences,
)

FOLDER = ROOT / "web" / "locale"
PO = FOLDER / "de.po"
GERMAN = Catalogues(FOLDER).of("de")
OSLO = ZoneInfo("Europe/Oslo")
EVIDENCE = (
    "thermostatd/core/guard", "thermostatd/core/meter", "thermostatd/core/record.py", "thermostatd/core/reading.py",
    "thermostatd/edge/sensing",
)  # fmt: skip
UNITS = {"min", "kWh"}
ENGLISH_ONLY: set[str] = set()
"""Guides that are not there in German."""


def modules(place: str) -> list[Path]:
    """A module, or every module in a folder."""
    path = ROOT / place
    return sorted(path.rglob("*.py")) if path.is_dir() else [path]


def fields(text: str) -> set[tuple[str, str]]:
    """The fields of a template, with their formats."""
    return {(name, form or "") for _, name, form, _ in string.Formatter().parse(text) if name}


def test_german_says_everything_and_nothing_else() -> None:
    """Each text of the program has its translation, and the catalogue has no other."""
    held = {(key[0], key[1]) if key[1] else key[0] for key in read_po(PO.read_text()) if key[0]}
    wanted = set(everything())
    assert not wanted - held, "write these in web/locale/de.po"
    assert not held - wanted, "nobody says these any more: take them out of web/locale/de.po"


def test_a_translation_has_the_fields_of_its_text() -> None:
    """No number is lost or misspelled, none is empty, and none is English left standing in a sentence."""
    for (one, many), told in read_po(PO.read_text()).items():
        if not one:
            continue
        assert all(text.strip() for text in told), one
        assert fields(told[-1]) == fields(many or one), one
        words = re.findall(r"[A-Za-z]{3,}", re.sub(r"\{[^}]*\}", "", one))
        assert len(words) < 3 or told[0] != one, one


def test_the_catalogue_is_read_as_gettext_reads_it() -> None:
    """Our reading of the file, and the binary form made of it, agree with babel's."""
    with PO.open("rb") as file:
        reference = pofile.read_po(file)
    theirs = {
        (one.id[0], one.id[1]) if isinstance(one.id, tuple) else (one.id, ""): one.string
        for one in reference
        if one.id
    }
    ours = {
        key: tuple(told) if key[1] else told[0] for key, told in read_po(PO.read_text()).items() if key[0]
    }
    assert ours == {key: tuple(told) if isinstance(told, tuple) else told for key, told in theirs.items()}
    made = BytesIO()
    mofile.write_mo(made, reference)
    made.seek(0)
    known = gettext.GNUTranslations(made)
    mine = gettext.GNUTranslations(BytesIO(packed(read_po(PO.read_text()))))
    for one, many in ours:
        for count in (0, 1, 2, 21):
            if many:
                assert mine.ngettext(one, many, count) == known.ngettext(one, many, count)
        assert mine.gettext(one) == known.gettext(one) or many


def test_a_line_that_is_none_is_named() -> None:
    """A broken catalogue is told with its line."""
    with pytest.raises(ValueError, match="line 2"):
        read_po('msgid "a"\nmsgstr nothing\n')


def test_names_of_days_and_months_are_those_of_cldr() -> None:
    """German days and months, short and long, as CLDR has them."""
    short = get_day_names("abbreviated", locale="de")
    wide = get_day_names("wide", locale="de")
    months = get_month_names("abbreviated", locale="de")
    assert [GERMAN.gettext(day) for day in DAYS] == [short[n] for n in range(7)]
    assert [GERMAN.gettext(day) for day in LONG_DAYS] == [wide[n] for n in range(7)]
    assert [GERMAN.gettext(month) for month in MONTHS] == [months[n] for n in range(1, 13)]
    assert list(MONTHS) == [get_month_names("abbreviated", locale="en")[n] for n in range(1, 13)]


def test_numbers_and_hours_are_those_of_cldr() -> None:
    """Decimal signs by language; "4:12 pm" exactly in the regions where CLDR's short time has twelve hours."""
    for language, sign in DECIMALS.items():
        assert get_decimal_symbol(language) == sign
    for region in ("us", "ca", "au", "nz", "in", "ph", "gb", "ie", "za", "de"):
        pattern = Locale("en", region.upper()).time_formats["short"].pattern
        assert (region in TWELVE_HOURS) == ("h" in pattern), region


@pytest.mark.parametrize(
    ("accept", "best"),
    [
        ("de-CH,de;q=0.9,en;q=0.8", "de"),
        ("fr, de;q=0.3, en;q=0.7", "en"),
        ("fr;q=1, it", "en"),
        ("de;q=0, en", "en"),
        ("", "en"),
        ("*;q=0.5,;;;,de;q=x," + "x" * 500, "en"),
        ("EN-gb;q=0.2, DE;q=0.4", "de"),
    ],
)
def test_the_browsers_wish_is_weighed(accept: str, best: str) -> None:
    """The language of the greatest weight that is spoken (RFC 9110, 12.5.4); nonsense gives English."""
    assert chosen_language(None, accept, Catalogues(FOLDER)) == best
    assert chosen_language("de", accept, Catalogues(FOLDER)) == "de"
    assert chosen_language("xx", accept, Catalogues(FOLDER)) == best
    assert all(weight > 0 for _, weight in preferences(accept))


def test_what_the_core_said_is_said_again() -> None:
    """Degrees, differences, times and nested sentences are told in the visitor's language and unit."""
    german = Speech("de", "C", False, OSLO, GERMAN)
    fahrenheit = Speech("en", "F", True, OSLO)
    why = sentence("warming", target=20.5, eta=said(" There in about {span}.", span=said("{minutes:.0f} minutes", minutes=25.0)))  # fmt: skip  # noqa: E501
    assert (
        german.say(sentence("switched-on", why=why))
        == "AN: Wird wärmer, bis 20,5°. In etwa 25 Minuten so weit."
    )
    assert fahrenheit.say(why) == "Warming towards 69°. There in about 25 minutes."  # 20.5 × 1.8 + 32 = 68.9
    assert fahrenheit.say(sentence("overshoot", over=1.0)) == "1.8° warmer than wanted."  # a difference
    assert fahrenheit.say(sentence("warm-plug", celsius=60.0)) == "The plug is 140 °F warm. Feel the socket."
    at = datetime(2026, 1, 12, 18, 5, tzinfo=OSLO).timestamp()
    off = sentence("all-off", who="Off", at=When("18:05", at))
    assert fahrenheit.say(off) == "Everything is off. Off said so at Mon 6:05 pm."
    assert "Off hat das gesagt" in german.say(off)  # a name stays a name, whatever it means
    assert german.say(sentence("reading-missing", why="4e9 is not a number")).endswith(
        "nicht zu gebrauchen ist."
    )


def test_what_was_kept_as_text_is_said_again() -> None:
    """Evidence and reasons that came back from the memory as English text are told in German all the same."""
    known = Catalogues(FOLDER).recognised("de")
    german = Speech("de", "C", False, OSLO, GERMAN, known)
    evidence = [one for folder in EVIDENCE for path in modules(folder) for one in in_python(path)]
    assert len(evidence) > 30
    for template in evidence:
        assert isinstance(template, str)
        numbers = {name: 21.0 if form else "hall" for name, form in fields(template)}
        made = said(template, **numbers)
        assert german.say(str(made)) == german.say(made) != str(made), template
    assert german.say("It is at 8 %.") == "Sie steht bei 8 %."
    assert german.say("it jumped from 19.5° to 4.0° at once").endswith("von 19,5° auf 4,0°")
    assert german.say("{no} template { at all") == "{no} template { at all"


def test_a_broker_that_is_away_is_told_in_the_pages_language(visit: Visit, house: Double) -> None:
    """Why it is away is said by the connection; the page says that in its own language too."""
    house.broker_up = False
    house.notes = (sentence_of_fault(ConnectionRefusedError(), Broker(host="127.0.0.1", port=1)),)
    assert "Nobody listens at 127.0.0.1:1:" in visit().get("/").text
    phone = visit()
    phone.post("/language", data={"language": "de"})
    page = phone.get("/").text
    assert "Bei 127.0.0.1:1 hört niemand" in page
    assert "Nobody listens" not in page


def test_evidence_is_made_of_templates() -> None:
    """No check writes a sentence by an f-string: nobody could say it in another language."""
    for folder in EVIDENCE[:-1]:  # what a sensor sent is told in words of its own
        for path in modules(folder):
            for node in ast.walk(ast.parse(path.read_text())):
                if isinstance(node, ast.JoinedStr):
                    told = "".join(str(part.value) for part in node.values if isinstance(part, ast.Constant))
                    assert told.count(" ") < 2, f"{path.name}:{node.lineno}: use said()"


def test_templates_hold_no_english_of_their_own() -> None:
    """Every word that a template shows goes through the catalogue."""
    for path in sorted((ROOT / "web/templates").glob("*.html")):
        text = re.sub(r"\{% block live %\}.*?\{% endblock %\}", "", path.read_text())
        text = re.sub(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", "", text, flags=re.DOTALL)
        shown = re.sub(r"<(style|script).*?</\1>|<[^>]*>", "", text, flags=re.DOTALL)
        spoken = re.findall(r'\b(?:aria-label|alt|title|placeholder|aria-description)="([^"]*)"', text)
        left = [word for piece in (shown, *spoken) for word in re.findall(r"[A-Za-z]{2,}", unescape(piece))]
        assert [word for word in left if word not in UNITS] == [], path.name


def test_the_page_speaks_the_visitors_language(visit: Visit, house: Double) -> None:
    """By the browser's wish, and by the visitor's own choice, which lasts and goes back to the page it came from."""
    phone = visit()
    phone.headers["accept-language"] = "de-DE"
    page = phone.get("/").text
    assert '<html lang="de">' in page
    for word in ("Kühler", "Wärmer", "bis 18:00", "Wunsch von Ana", ">Mo. </span>16:12", "Alles aus"):
        assert word in page
    assert "20<small>,0" in page or "20<small>,1" in page or "19<small>," in page
    back = phone.post(
        "/language", data={"language": "en"}, headers={"referer": "http://quay.local/room/study"}
    )
    assert back.headers["location"] == "/room/study"
    assert "Cooler" in phone.get("/").text
    assert phone.post("/language", data={"language": "../x"}).status_code == 303
    assert "Cooler" in phone.get("/").text


def test_what_is_wrong_with_the_house_file_is_said_in_german(visit: Visit, house: Double) -> None:
    """The banner for everyone; what the owner is to do, and the file's own page, say that they are in English."""
    house.notes = (said(words.FILE_FAULT, told="line 40: room.study: is missing. Write sensor = …"),)
    house.file = FileLook("house.toml", (), ((14, "room.study", "it is odd", "Mend it."),), False)
    phone = visit("owner")
    phone.headers["accept-language"] = "de-DE"
    page = phone.get("/").text
    assert "Die Hausdatei wurde geändert und hat einen Fehler" in page
    assert "auf Englisch: line 40: room.study: is missing. Write sensor = …" in page
    assert "steht auf Englisch da" in phone.get("/owner/file").text
    phone.headers["accept-language"] = "en-GB"
    assert "What was found is told in English" not in phone.get("/owner/file").text


def test_a_decimal_comma_is_understood(visit: Visit, house: Double) -> None:
    """Who writes 20,5 asks for 20.5°."""
    phone = visit()
    phone.headers["accept-language"] = "de"
    assert (
        phone.post("/ask", data={"room": "study", "degrees": "21,5", "until": "next-step"}).status_code == 303
    )
    assert house.asked[-1].celsius == 21.5  # type: ignore[union-attr]
    refused = phone.post("/ask", data={"room": "study", "degrees": "29,0", "until": "in-60"})
    assert "22,0° ist hier das Wärmste" in refused.text


def test_american_phones_in_european_houses_keep_celsius(visit: Visit, house: Double) -> None:
    """°F and "pm" come with US English only in a house on 120 V; elsewhere that is only how phones are sold."""
    phone = visit()
    phone.headers["accept-language"] = "en-US,en;q=0.9"
    assert "until 18:00" in phone.get("/").text
    mains = house.house.house.model_copy(update={"mains_volts": 120.0})
    house.house = house.house.model_copy(update={"house": mains})
    house.decide()
    page = phone.get("/")
    assert "until 6:00 pm" in page.text
    assert "69°" in page.text


def test_help_is_in_the_visitors_language_where_it_is_translated(visit: Visit) -> None:
    """Guides are there in German; one that is not comes in English and says so."""
    phone = visit()
    phone.headers["accept-language"] = "de"
    assert "Jeder Grund" in phone.get("/help/reasons").text
    for name in ENGLISH_ONLY:
        assert '<article lang="en">' in phone.get(f"/help/{name}").text


GUIDES = sorted(path.stem for path in (ROOT / "web/help").glob("*.md"))


def test_every_guide_is_there_in_german() -> None:
    """No guide is forgotten, and none is there in German alone."""
    german = {path.stem for path in (ROOT / "web/help/de").glob("*.md")}
    assert german == set(GUIDES) - ENGLISH_ONLY


@pytest.mark.parametrize("name", sorted(set(GUIDES) - ENGLISH_ONLY - {"using"}))
def test_a_german_guide_keeps_what_is_typed(name: str) -> None:
    """It has the commands, house files, codes, steps, tables and links of the English one."""

    def parts(folder: str) -> dict[str, list[str]]:
        text = (ROOT / folder / f"{name}.md").read_text()
        typed = [re.sub(r"\s+#.*", "", line).strip() for line in re.findall(r"^ {4,}(\S.*)$", text, re.M)]
        commands = [
            line for line in typed if re.match(r"(sudo|thermostatd|systemctl|journalctl|git|tar|ln|\()", line)
        ]
        files = re.findall(r"^\s*(?:sensor|usual|plug|household) = .*$", text, re.M)
        steps = re.findall(r"^\d+\. ", text, re.M)
        return {
            "commands": commands, "files": files, "steps": steps,
            "codes": sorted(set(re.findall(r"`([^`\n]+)`", text))),
            "headings": [len(one) for one in re.findall(r"^(#+) ", text, re.M)],
            "links": sorted(set(re.findall(r"\]\(([a-z-]+\.(?:md|svg))", text))),
        }  # fmt: skip

    assert parts("web/help/de") == parts("web/help")


def test_the_german_reasons_explain_the_same_codes() -> None:
    """Each code has its section in the German guide too, in the same order."""
    found = [
        re.findall(r"^### `([\w-]+)`$", (ROOT / "web/help" / name).read_text(), re.M)
        for name in ("reasons.md", "de/reasons.md")
    ]
    assert sorted(set(found[0])) == sorted(set(found[1]))
