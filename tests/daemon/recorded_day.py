"""A day of a simulated house, decided by the Regulator and recorded into a real store, in virtual time."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from thermostatd.core.asking import AllOff, Ask, Cancel, Out, Request, RoomOff, Seen
from thermostatd.core.house import House
from thermostatd.core.regulator import Regulator
from thermostatd.core.remembering import awaken
from thermostatd.daemon.observed import rounded, rounded_moment
from thermostatd.daemon.recorded import Recorded
from thermostatd.edge.store import Store
from thermostatd.rehearsal import SimulatedHouse

START = datetime(2026, 1, 12, 23, tzinfo=UTC)  # invented; a new day of the house begins at once in Oslo
MODEL = {"gain_kelvin": 25.0, "tau_seconds": 20_000.0, "dead_seconds": 600.0}


def house(**study: object) -> House:
    """Two invented rooms, one under proportional control."""
    usual = [{"at": "06:30", "celsius": 20}, {"at": "22:00", "celsius": 16}]

    def room(name: str, **more: object) -> dict[str, object]:
        heater = {
            "name": "column",
            "watts": 650,
            "may_run": ["awake", "asleep"],
            "plug": {"kind": "simulated"},
        }
        return {"name": name, "sensor": {"topic": f"air/{name}"}, "usual": usual, "heater": [heater]} | more

    table = {"timezone": "Europe/Oslo", "outdoor": {"topic": "yard"}}
    rooms = [room("study", control="proportional", **study), room("attic")]
    return House.model_validate({"house": table, "room": rooms})


def live(
    state: Path,
    house: House,
    hours: float = 24.0,
    tick_seconds: float = 10.0,
    asked: Mapping[int, Request] | None = None,
    restart_at: int = -1,
    seed: int = 3,
    model: Mapping[str, Any] = MODEL,
) -> dict[str, int]:
    """Live through it; `asked` is by step, `model` is adopted at step 250. Gives how often each heater was switched."""
    simulated = SimulatedHouse(house, seed=seed, start=START)
    store = Store.open(state, lambda: simulated.steady)
    regulator, recorded = Regulator(house), Recorded(house, store)
    try:
        for index in range(int(hours * 3600.0 / tick_seconds)):
            if index == restart_at:
                recorded.end()
                regulator, recorded = Regulator(house, awaken(regulator.memory)), Recorded(house, store)
            moment, seen = rounded(simulated.moment(), simulated.observation())
            recorded.begin(moment, regulator)
            result = regulator.step(moment, seen)
            recorded.step(moment, seen, result)
            for key, order in result.orders.items():
                simulated.tell(key, order.on, max(order.lapses - moment.steady, 0.0))
            if asked and index in asked:
                between = simulated.moment()
                later = timedelta(seconds=1.2345678)
                moment = rounded_moment(type(between)(between.wall + later, between.steady + 1.2345678))
                regulator.do(moment, asked[index])
                recorded.asked(moment, asked[index])
            if index == 250:
                regulator.adopt({"study": model})
                recorded.adopted({"study": model})
            simulated.advance(tick_seconds)
        recorded.end()
    finally:
        store.close()
    return regulator.operations()


def requests() -> dict[int, Request]:
    """What an invented household asked, some of it refused."""
    noon = START + timedelta(hours=13)
    return {
        150: Ask("attic", 21.5, noon, "Ana"),
        350: Ask("study", 99.0, who="Ana"),
        450: AllOff("Bo"),
        465: Cancel(AllOff, "Bo"),
        480: Ask("study", 21.0, noon - timedelta(hours=2), "Ana", begins=noon - timedelta(hours=3)),
        500: RoomOff("study", noon - timedelta(hours=4), "Ana"),
        600: Cancel("study"),
        750: Out(noon + timedelta(hours=4), "Ana"),
        850: Cancel(Out),
        900: Seen("nothing/at-all"),
        1000: Cancel("attic"),
    }
