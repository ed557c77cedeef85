"""Sentences that remember what they were made from, as they are kept and made again."""

import copy

import pytest

from thermostatd.core.said import Said, When, from_plain, plain_of, said

CODES = {"It is {celsius:.1f}° in {room}.": "air", "the {name}": "place"}
TEMPLATES = {code: template for template, code in CODES.items()}


def again(plain):
    """Made again; a time is written as its second."""
    return from_plain(plain, TEMPLATES, lambda wall: f"second {wall:.0f}")


def test_a_sentence_is_its_text_and_remembers_its_numbers():
    """A copy is plain text; text of someone else is its own template, braces and all."""
    made = said("It is {celsius:.1f}° in {room}.", celsius=20.04, room="den")
    assert made == "It is 20.0° in den."
    assert (made.template, made.numbers) == (
        "It is {celsius:.1f}° in {room}.",
        {"celsius": 20.04, "room": "den"},
    )
    assert type(copy.copy(made)) is str
    assert type(copy.copy(When("noon", 5.0))) is str
    assert Said("{odd}").template == "{{odd}}"
    assert Said("{odd}").template.format() == "{odd}"
    assert dict(Said("plain").numbers) == {}


def test_a_sentence_is_kept_by_its_code_with_what_is_in_it():
    """Sentences and times inside it too; numbers to the thousandth; a template without a code as it is."""
    place = said("the {name}", name="den")
    made = said("It is {celsius:.1f}° in {room}.", celsius=20.04567, room=place)
    plain = plain_of(made, CODES)
    assert plain == ["=air", {"celsius": 20.046, "room": ["=place", {"name": "den"}]}]
    assert again(plain) == "It is 20.0° in the den."
    assert again(plain).numbers["room"].template == "the {name}"
    until = said("until {at}", at=When("noon", 43200.0))
    assert plain_of(until, CODES) == ["until {at}", {"at": [43200.0]}]
    found = again(plain_of(until, CODES))
    assert (found, found.numbers["at"].wall) == ("until second 43200", 43200.0)
    assert (plain_of("as it is", CODES), again("as it is")) == ("as it is", "as it is")


def test_a_code_that_is_gone_cannot_be_made():
    """A KeyError, inside another sentence too."""
    for plain in (["=gone", {}], ["=air", {"celsius": 1.0, "room": ["=gone", {}]}]):
        with pytest.raises(KeyError):
            again(plain)
