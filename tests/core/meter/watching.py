"""A heater whose meter is watched: what is known of it, and one thing that its run has shown. All invented."""

from __future__ import annotations

from copy import deepcopy

from tests.core.guard.cases import NOW, case_of
from tests.stories.teller import study
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.meter import watch
from thermostatd.core.meter.power import Power
from thermostatd.core.meter.run import Happening

BEGAN = NOW - 600.0
OIL = study(heater="settings_watts = [600, 900, 1500]")
PANEL = study(heater='kind = "panel"')
OPEN = {"on_at": BEGAN, "before": 1500.0, "after": 588.0, "at": NOW - 300.0, "seconds": 300.0, "warmth": 450.0,
        "most": 460.0}  # fmt: skip
GONE = {"on_at": BEGAN, "before": 1500.0, "after": 0.0, "at": NOW - 700.0, "seconds": 300.0, "warmth": 850.0,
        "most": 900.0}  # fmt: skip


def heater(notes=(), *, toml=None, facts=None, body=None, more=(), **kept):
    """Its case, `notes` of its cut-out, and `more` notes; its run began ten minutes ago."""
    known = deepcopy({"cut-out": {"on_at": BEGAN} | dict(notes)} | dict(more))
    kept |= {"body": body} if body is not None else {}
    return case_of(toml=toml, notes=known, facts=facts or HeaterFacts(), **kept)


def show(case, what, before, after, warmth=(440.0, 460.0), at=(NOW - 20.0, NOW), *, slow=False, exact=True):
    """Its meter shows this: the notes of its cut-out then."""
    power = Power(after, at[1], exact, True, not after, slow)
    notes = case.notes("cut-out")
    watch._HANDLE[what](case, notes, power, Happening(what, before, after, *at, *warmth))
    return notes
