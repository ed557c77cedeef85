"""The bench's houses: three rooms in a row each, sizes and layers from outside to inside. All of it is invented.

Rules: metres, W/(m·K), kg/m³, J/(kg·K); a window by its U, W/(m²·K), and solar gain; a heater by watts, its
store's seconds and its radiant share. `sketched` is kept away from tuning: a house to validate on. `quick` is the
light house with convectors, which store next to nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of a wall."""

    name: str
    metres: float
    conductivity: float
    density: float
    heat: float


@dataclass(frozen=True, slots=True)
class Cell:
    """One room: its width along the row, its window to the south, what leaks, what stands in it, and its heater."""

    name: str
    wide: float
    window_square_metres: float
    changes_per_hour: float
    furniture_square_metres: float
    watts: float = 650.0
    store_seconds: float = 1080.0
    radiant_share: float = 0.35
    sensor_seconds: float = 420.0
    people_watts: float = 90.0
    kind: str = "oil-filled"


@dataclass(frozen=True, slots=True)
class Building:
    """A house: its rooms, their depth and height, and the layers of walls, roof, floor and partitions."""

    name: str
    cells: tuple[Cell, ...]
    deep: float
    high: float
    wall: tuple[Layer, ...]
    roof: tuple[Layer, ...]
    floor: tuple[Layer, ...]
    partition: tuple[Layer, ...]
    glass_u: float = 1.4
    glass_gain: float = 0.35
    air_multiplier: float = 8.0
    door_cubic_metres_per_second: float = 0.008


BOARD = Layer("board", 0.0125, 0.21, 800.0, 1000.0)
CLADDING = Layer("cladding", 0.022, 0.13, 500.0, 1600.0)
DECK = Layer("deck", 0.022, 0.13, 550.0, 1600.0)
BRICK = Layer("brick", 0.11, 0.77, 1700.0, 800.0)
BLOCK = Layer("block", 0.15, 0.9, 1600.0, 850.0)
SCREED = Layer("screed", 0.06, 1.2, 2000.0, 900.0)
CONCRETE = Layer("concrete", 0.15, 1.6, 2300.0, 900.0)
PLASTER = Layer("plaster", 0.012, 0.5, 1300.0, 1000.0)
LOG = Layer("log", 0.18, 0.13, 480.0, 1600.0)


def wool(metres: float) -> Layer:
    """Mineral wool of some thickness."""
    return Layer(f"wool {metres * 1000:.0f}", metres, 0.038, 30.0, 840.0)


LIGHT = Building(
    "light",
    (
        Cell("parlour", 4.2, 1.3, 0.25, 28.0, sensor_seconds=420.0),
        Cell("sewing room", 3.6, 0.9, 0.40, 18.0, sensor_seconds=300.0, people_watts=60.0),
        Cell("bedroom", 4.0, 1.1, 0.25, 24.0, sensor_seconds=540.0, people_watts=80.0),
    ),
    deep=4.0,
    high=2.4,
    wall=(CLADDING, wool(0.18), BOARD),
    roof=(CLADDING, wool(0.20), BOARD),
    floor=(DECK, wool(0.15), DECK),
    partition=(BOARD, wool(0.05), BOARD),
)
SOLID = Building(
    "solid",
    (
        Cell("library", 4.3, 1.8, 0.25, 30.0, sensor_seconds=480.0),
        Cell("kitchen", 3.6, 1.4, 0.35, 20.0, sensor_seconds=300.0, people_watts=120.0),
        Cell("nursery", 3.8, 1.6, 0.30, 22.0, sensor_seconds=420.0, people_watts=60.0),
    ),
    deep=4.2,
    high=2.6,
    wall=(BRICK, wool(0.16), BLOCK, PLASTER),
    roof=(CLADDING, wool(0.20), CONCRETE, PLASTER),
    floor=(CONCRETE, wool(0.12), SCREED),
    partition=(PLASTER, BRICK, PLASTER),
)
SKETCHED = Building(
    "sketched",
    (
        Cell("studio", 6.0, 4.5, 0.5, 40.0, 1000.0, 700.0, 0.25, 600.0, 100.0),
        Cell("closet room", 2.6, 0.8, 0.3, 10.0, 400.0, 1500.0, 0.45, 240.0, 40.0),
        Cell("guest room", 3.6, 1.8, 0.6, 16.0, 800.0, 1300.0, 0.30, 360.0, 70.0),
    ),
    deep=3.6,
    high=2.5,
    wall=(LOG, wool(0.05), BOARD),
    roof=(CLADDING, wool(0.25), BOARD),
    floor=(DECK, wool(0.20), DECK),
    partition=(LOG,),
    glass_u=1.1,
    glass_gain=0.45,
    air_multiplier=4.0,
    door_cubic_metres_per_second=0.02,
)
QUICK = replace(
    LIGHT,
    name="quick",
    cells=tuple(
        replace(cell, watts=1000.0, store_seconds=90.0, radiant_share=0.1, kind="convector") for cell in LIGHT.cells
    ),
)
BUILDINGS = {building.name: building for building in (LIGHT, SOLID, SKETCHED, QUICK)}
