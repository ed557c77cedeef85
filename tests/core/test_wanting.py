"""What surrounds a control law: prices before it, what can be told and windows after it. All invented."""

from datetime import timedelta

from tests.core.guard.cases import NOON, NOW, now_at
from tests.stories.teller import COLUMN, house_of, study
from thermostatd.core import wanting as module
from thermostatd.core.demand import Wants
from thermostatd.core.memory import AirMemory, HeaterMemory, Memory, RoomMemory
from thermostatd.core.reading import Readings
from thermostatd.core.reasons import reason
from thermostatd.core.results import Demand, Outlook, Target
from thermostatd.core.tariff import Prices
from thermostatd.core.values import Missing, Reading
from thermostatd.core.wanting import wanting

DEAR = "[tariff]\nper_kwh = 1.0\n" + 'prices = [{ from = "17:00", to = "20:00", per_kwh = 3.0 }]'


def wanted(hours=0.0, air=19.0, more="", **window):
    """What the study wants so many hours after noon, and what it is judged by."""
    house = house_of(study(more=more))
    memory = Memory(
        rooms={"study": RoomMemory(air=AirMemory(step=0.1), window=window)}, heaters={COLUMN: HeaterMemory()}
    )
    readings = Readings({"study": Reading(air, NOW)}, Missing(""), ())
    now = now_at(wall=NOON + timedelta(hours=hours))
    wants, judged = wanting(
        house, memory, readings, {"study": Target(20.0, "usual", "usual")}, Prices(house), now
    )
    return wants.rooms["study"], wants.heaters[COLUMN], judged["study"].celsius


def test_prices_move_what_the_law_aims_at():
    """Down while it is dear, and said so; what it is judged by is the higher of the two."""
    demand, heater, judged = wanted(6.0, 19.8, DEAR)
    assert (demand.on, demand.reason.code, heater, judged) == (
        False,
        "dear-hours",
        (False, demand.reason),
        20.0,
    )
    demand, _, judged = wanted(3.5, 20.1, DEAR)
    assert (demand.on, demand.reason.code, judged) == (True, "cheap-hours", 20.5)
    demand, _, judged = wanted(0.0, 19.0, DEAR)
    assert (demand.on, demand.reason.code, judged) == (True, "warming", 20.0)


def test_an_open_window_takes_the_heat_away():
    """After all else."""
    points = [[NOW - 400.0, 22.0]]
    demand, heater, _ = wanted(0.0, 18.0, "", points=points, at=NOW - 1.0)
    assert (demand.on, demand.reason.code, heater[0]) == (False, "window-open", False)


def test_what_a_model_foresees_is_told_by_the_clock(monkeypatch):
    """24 minutes after noon."""
    why = reason("warming", target=20.0, eta="")
    outlook = Outlook(((NOW + 240.0, 18.2, 0.1),), NOW + 1440.0, 20.0, None, None, -9.0)
    foreseen = Wants({"study": Demand(True, 1.0, why, outlook)}, {COLUMN: (True, why)})
    monkeypatch.setattr(module, "demands", lambda *_: foreseen)
    demand, _, _ = wanted()
    assert demand.reason.sentence == "Warming towards 20.0°. It will be 20.0° at 12:24."
