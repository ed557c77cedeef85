"""A heater whose reports come far apart, as pacing is shown it, and a body that a test knows. Invented numbers.

Rules: one sure candidate of the middle store, so that a run's end, its risk and its step are closed forms; what is
stood is chosen so that a run passes it by just the share that a test is about. A tick is ten seconds, a shortest run
five minutes, and a report comes each 300 s, the last one 100 s ago.
"""

from tests.core.body.bodies import STORE, body_of
from tests.core.guard.cases import NOW, case_of
from tests.stories.teller import study
from thermostatd.core.body.store import CANDIDATES
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.guard import pacing
from thermostatd.core.reasons import reason
from thermostatd.core.results import Verdict

HELD = Verdict("pacing", True, reason("pacing"), safety=False)
SLOW = {"meter_period": 300.0, "watts_at": NOW - 100.0}
RUNS = SLOW | {"told_on": True, "on_since": NOW - 4000.0, "shown_on": True}
RESTS = SLOW | {"told_on": False, "off_since": NOW - 600.0, "shown_on": False}
WATTS = 600.0
WARM = 35.0  # a room in which little rise is left


def judged(
    monkeypatch, low=100.0, *openings, kept=RESTS, air=20.0, heater="", warmth=0.0, opens=1000.0, **body
):
    """The verdict on a body that has stood `low`, and the body."""
    monkeypatch.setattr(pacing, "follow", lambda case: case.kept.body)
    more = {"warmth": [warmth] * CANDIDATES, "opens": [opens] * CANDIDATES, "watts": WATTS} | body
    known = body_of(low, *openings, **more)
    case = case_of(toml=study(heater=heater), air=air, **kept | {"body": known, "facts": HeaterFacts()})
    return pacing.judge(case), known


def share_in(air: float) -> float:
    """The share of the opening warmth that a room of this air leaves."""
    return pacing.room_share(case_of(air=air))


def rested(warmth: float, seconds: float) -> float:
    """The middle candidate after a rest (closed form)."""
    return (warmth**-0.3 + 0.3 * seconds / STORE) ** (-1.0 / 0.3) if warmth else 0.0
