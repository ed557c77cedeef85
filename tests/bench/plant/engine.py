"""Runs the engine in this process and hands each of its minutes to a driver.

Rules: once a process (the library keeps nothing we would trust a second time); a driver's error stops the run and
is raised here; warm-up days are driven too, with `warming` true, so that walls start near the rooms' targets.
"""

from __future__ import annotations

import json
import tempfile
from datetime import date
from pathlib import Path
from typing import Protocol

from tests.bench.plant.houses import Building
from tests.bench.plant.model import AIR, SURFACES, written


class Driver(Protocol):
    """Whatever decides the heat of the coming minute."""

    def minute(self, air: list[float], outdoor: float, warming: bool) -> list[tuple[float, float]]:
        """From each room's true air, °C, to the watts given to its air and to its surfaces."""
        ...

    def open_window_changes(self) -> list[float | None]:
        """Air changes an hour of each room while a window is open there; None: as it leaks by itself."""
        ...


class EngineError(Exception):
    """The engine is missing, or it gave up; the message has its own words."""


def weather_file(word: str) -> Path:
    """The package's weather file whose name contains a word, or a path to one."""
    if Path(word).is_file():
        return Path(word)
    folder = _package() / "data" / "weather"
    found = sorted(path for path in folder.glob("*.epw") if word.lower() in path.name.lower())
    if not found:
        names = ", ".join(sorted(path.stem.split("_")[2].split(".")[0] for path in folder.glob("*.epw")))
        raise EngineError(f'no weather file of the package has "{word}" in its name; there are: {names}')
    return found[0]


def _package() -> Path:
    try:
        import pyenergyplus
    except ImportError:
        raise EngineError('the engine is not installed: pip install "thermostatd[test]"') from None
    return Path(pyenergyplus.__path__[0])


def simulate(building: Building, weather: Path, first: date, days: int, driver: Driver) -> None:
    """One run of some days from a date on; the driver sees each minute."""
    _package()
    from pyenergyplus.api import EnergyPlusAPI

    api = EnergyPlusAPI()
    state = api.state_manager.new_state()
    hook = _Hook(api, building, driver)
    api.runtime.set_console_output_status(state, False)
    api.runtime.callback_begin_zone_timestep_after_init_heat_balance(state, hook.minute)
    with tempfile.TemporaryDirectory(prefix="thermostatd-plant-") as folder:
        where = Path(folder)
        api.exchange.request_variable(state, "Site Outdoor Air Drybulb Temperature", "Environment")
        for cell in building.cells:
            api.exchange.request_variable(state, "Zone Mean Air Temperature", cell.name)
        (where / "in.epJSON").write_text(json.dumps(written(building, first, days)))
        code = api.runtime.run_energyplus(
            state, ["-d", str(where), "-w", str(weather), str(where / "in.epJSON")]
        )
        said = (
            (where / "eplusout.err").read_text(errors="replace") if (where / "eplusout.err").exists() else ""
        )
    api.state_manager.delete_state(state)
    if hook.fault is not None:
        raise hook.fault
    if code != 0 or not hook.minutes:
        raise EngineError(f"the engine gave up with {code}:\n{said[-3000:]}")


class _Hook:
    """The engine's callback: handles are looked up once, then each minute goes through the driver."""

    def __init__(self, api: object, building: Building, driver: Driver) -> None:
        self.api, self.building, self.driver = api, building, driver
        self.fault: BaseException | None = None
        self.minutes = 0
        self._ready = False

    def _look_up(self, state: object) -> None:
        get = self.api.exchange
        names = [cell.name for cell in self.building.cells]
        self._air = [get.get_variable_handle(state, "Zone Mean Air Temperature", name) for name in names]
        self._outdoor = get.get_variable_handle(state, "Site Outdoor Air Drybulb Temperature", "Environment")
        self._heat = [
            tuple(
                get.get_actuator_handle(state, "OtherEquipment", "Power Level", f"{name} {kind}")
                for kind in (AIR, SURFACES)
            )
            for name in names
        ]
        self._leaks = [
            get.get_actuator_handle(state, "Zone Infiltration", "Air Exchange Flow Rate", f"{name} leaks")
            for name in names
        ]
        self._volumes = [cell.wide * self.building.deep * self.building.high for cell in self.building.cells]
        if min(*self._air, self._outdoor, *(h for pair in self._heat for h in pair), *self._leaks) < 0:
            raise EngineError("the engine does not know one of the names that the bench asks for")
        self._ready = True

    def minute(self, state: object) -> None:
        """Called by the engine at the start of each of its minutes."""
        if self.fault is not None:
            return
        get = self.api.exchange
        try:
            if not self._ready:
                if not get.api_data_fully_ready(state):
                    return
                self._look_up(state)
            warming = bool(get.warmup_flag(state))
            air = [get.get_variable_value(state, handle) for handle in self._air]
            outdoor = get.get_variable_value(state, self._outdoor)
            heat = self.driver.minute(air, outdoor, warming)
            for handles, watts in zip(self._heat, heat, strict=True):
                for handle, one in zip(handles, watts, strict=True):
                    get.set_actuator_value(state, handle, one)
            self._windows(state)
            self.minutes += not warming
        except BaseException as fault:
            self.fault = fault
            self.api.runtime.stop_simulation(state)

    def _windows(self, state: object) -> None:
        for handle, changes, volume in zip(
            self._leaks, self.driver.open_window_changes(), self._volumes, strict=True
        ):
            if changes is None:
                self.api.exchange.reset_actuator(state, handle)
            else:
                self.api.exchange.set_actuator_value(state, handle, changes * volume / 3600.0)
