"""What goes wrong in the robustness runs, by name; each is a set of knobs of the plant.

Rules: a trouble begins after three days unless it is there from the start; "lost excitation" is a room that needs
almost no switching, so that the record tells little; constants are wrong by half in both directions. `HELPS` are no
troubles: what a house may have besides.
"""

from __future__ import annotations

from tests.bench.plant.regulated import Knobs, Regulated

DAY = 86400.0
BEGINS = 3 * DAY


def knobs(name: str) -> Knobs:
    """The knobs of a trouble; "" is none. KeyError names those there are."""
    if not name:
        return Knobs()
    try:
        return (TROUBLES | HELPS)[name]()
    except KeyError:
        raise KeyError(f'no trouble "{name}"; there are: {", ".join(TROUBLES | HELPS)}') from None


def _stuck_on(driver: Regulated, gone: float) -> None:
    """One contact welds for five hours on the fourth day, then someone pulls the plug out."""
    if gone == BEGINS + 10 * 3600.0:
        driver.heaters[0].stuck = True
        driver.heaters[0].on = True
    if gone == BEGINS + 15 * 3600.0:
        driver.heaters[0].stuck = False
        driver.heaters[0].on = False


def _opened_window(driver: Regulated, gone: float) -> None:
    """Windows stand open: twice a day for half an hour, and once for three hours."""
    hour = gone % DAY / 3600.0
    open_now = gone >= BEGINS and (7.5 <= hour < 8.0 or 20.0 <= hour < 20.5)
    long_one = BEGINS + DAY + 13 * 3600.0 <= gone < BEGINS + DAY + 16 * 3600.0
    driver.windows[0] = 12.0 if open_now or long_one else None
    driver.windows[2] = 8.0 if open_now else None


def _no_power(driver: Regulated, gone: float) -> None:
    """One heater stays off for five hours a day, whatever it is told (someone turned it off)."""
    hour = gone % DAY / 3600.0
    driver.heaters[1].stuck = False if gone >= BEGINS and 9.0 <= hour < 14.0 else None


def _other_heater(driver: Regulated, gone: float) -> None:
    """Someone's own 500 W heater stands in a room from the second day on, and goes three days later."""
    driver.extra_watts[0] = 500.0 if BEGINS - 2 * DAY <= gone < BEGINS + DAY else 0.0


def _swapped_later(driver: Regulated, gone: float) -> None:
    """Two sensors change places after three days in which all was well."""
    driver.knobs.swapped = gone >= BEGINS


def _carried_away(driver: Regulated, gone: float) -> None:
    """After three days a heater stands outdoors: it draws power, and its heat is gone."""
    driver.heaters[0].elsewhere = gone >= BEGINS


NOT_SOUND = ("swapped sensors", "swapped after three days", "carried away")
"""In these `no-answer` has its reason; in any other run its rests cost comfort for nothing."""
TROUBLES = {
    "lost excitation": lambda: Knobs(happens=_other_heater),
    "stuck on": lambda: Knobs(happens=_stuck_on),
    "turned off by hand": lambda: Knobs(happens=_no_power),
    "opened window": lambda: Knobs(happens=_opened_window),
    "swapped sensors": lambda: Knobs(swapped=True),
    "swapped after three days": lambda: Knobs(happens=_swapped_later),
    "carried away": lambda: Knobs(happens=_carried_away),
    "sensor every 5 min": lambda: Knobs(sensor_period=300.0),
    "sensor every 20 min": lambda: Knobs(sensor_period=1200.0),
    "sensor beside its heater": lambda: Knobs(sensor_beside=0.002),
    "coarse sensor on change": lambda: Knobs(sensor_step=0.5, sensor_change=0.5),
    "outdoor sensor in the sun": lambda: Knobs(outdoor_sun=8.0),
    "sensor on change": lambda: Knobs(sensor_change=0.1),
    "sensor on far change": lambda: Knobs(sensor_change=0.3),
    "0.5 K steps": lambda: Knobs(sensor_step=0.5),
    "no outdoor sensor": lambda: Knobs(outdoor=False),
    "no meter": lambda: Knobs(meter=False),
    "heater half as strong": lambda: Knobs(heater_errs=0.5),
    "heater half as strong again": lambda: Knobs(heater_errs=1.5),
}
HELPS = {"forecast": lambda: Knobs(forecast=True)}
