"""Writes a house down for the engine (its JSON input), with heat that a program sets minute by minute.

Rules: rooms stand in a row from west to east with windows to the south, on the ground, under one roof; each has
two actuators of heat, `warm air` and `warm surfaces`, W; nothing else heats it; an opened window is an air change.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from tests.bench.plant.houses import Building, Cell, Layer

Table = dict[str, dict[str, Any]]
AIR, SURFACES = "warm air", "warm surfaces"


def written(building: Building, first: date, days: int) -> dict[str, Table]:
    """The engine's whole input for a run of some days."""
    last = first + timedelta(days=days - 1)
    tables: dict[str, Table] = {
        "Version": {"v": {"version_identifier": "25.2"}},
        "Timestep": {"t": {"number_of_timesteps_per_hour": 60}},
        "Building": {
            building.name: {
                "terrain": "Suburbs",
                "solar_distribution": "FullExterior",
                "minimum_number_of_warmup_days": 4,
                "maximum_number_of_warmup_days": 12,
                "loads_convergence_tolerance_value": 0.04,
                "temperature_convergence_tolerance_value": 0.2,
            }
        },
        "SimulationControl": {
            "s": {
                "do_zone_sizing_calculation": "No",
                "do_system_sizing_calculation": "No",
                "do_plant_sizing_calculation": "No",
                "run_simulation_for_sizing_periods": "No",
                "run_simulation_for_weather_file_run_periods": "Yes",
            }
        },
        "RunPeriod": {
            "r": {
                "begin_month": first.month,
                "begin_day_of_month": first.day,
                "end_month": last.month,
                "end_day_of_month": last.day,
                "use_weather_file_holidays_and_special_days": "No",
                "use_weather_file_daylight_saving_period": "No",
            }
        },
        "GlobalGeometryRules": {
            "g": {
                "starting_vertex_position": "UpperLeftCorner",
                "vertex_entry_direction": "Counterclockwise",
                "coordinate_system": "World",
            }
        },
        "Site:GroundTemperature:BuildingSurface": {
            "g": {f"{month}_ground_temperature": 10.0 for month in MONTHS}
        },
        "ScheduleTypeLimits": {"any": {}},
        "Schedule:Constant": {"always": {"schedule_type_limits_name": "any", "hourly_value": 1.0}},
        "ZoneCapacitanceMultiplier:ResearchSpecial": {
            "c": {"temperature_capacity_multiplier": building.air_multiplier}
        },
        "WindowMaterial:SimpleGlazingSystem": {
            "glass": {"u_factor": building.glass_u, "solar_heat_gain_coefficient": building.glass_gain}
        },
        "Output:SQLite": {},
        "OutputControl:Files": {"f": dict.fromkeys(SILENT, "No")},
    }
    tables.pop("Output:SQLite")
    _layers(tables, building)
    west = 0.0
    for index, cell in enumerate(building.cells):
        _cell(tables, building, index, west)
        west += cell.wide
    _doors(tables, building)
    return tables


MONTHS = ("january", "february", "march", "april", "may", "june",
          "july", "august", "september", "october", "november", "december")  # fmt: skip
SILENT = ("output_csv", "output_mtr", "output_eso", "output_audit", "output_bnd", "output_tabular",
          "output_shd", "output_mdd", "output_mtd", "output_rdd", "output_eio")  # fmt: skip


def _layers(tables: dict[str, Table], building: Building) -> None:
    materials, constructions = tables.setdefault("Material", {}), tables.setdefault("Construction", {})
    for part in ("wall", "roof", "floor", "partition"):
        layers: tuple[Layer, ...] = getattr(building, part)
        for layer in layers:
            materials[layer.name] = {
                "roughness": "MediumRough",
                "thickness": layer.metres,
                "conductivity": layer.conductivity,
                "density": layer.density,
                "specific_heat": layer.heat,
            }
        for name, order in ((part, layers), (f"{part} turned", layers[::-1])):
            constructions[name] = {
                "outside_layer" if at == 0 else f"layer_{at + 1}": layer.name
                for at, layer in enumerate(order)
            }
    materials["wood"] = {
        "roughness": "Smooth",
        "thickness": 0.02,
        "conductivity": 0.15,
        "density": 600.0,
        "specific_heat": 1600.0,
    }
    constructions["furniture"] = {"outside_layer": "wood"}
    constructions["window"] = {"outside_layer": "glass"}


def _cell(tables: dict[str, Table], building: Building, index: int, west: float) -> None:
    cell = building.cells[index]
    tables.setdefault("Zone", {})[cell.name] = {}
    east, deep, high = west + cell.wide, building.deep, building.high
    neighbours = (
        building.cells[index - 1].name if index > 0 else None,
        building.cells[index + 1].name if index + 1 < len(building.cells) else None,
    )
    outdoors = {
        "outside_boundary_condition": "Outdoors",
        "sun_exposure": "SunExposed",
        "wind_exposure": "WindExposed",
    }
    walls = tables.setdefault("BuildingSurface:Detailed", {})

    def put(
        side: str, kind: str, construction: str, corners: list[tuple[float, float, float]], **more: str
    ) -> None:
        walls[f"{cell.name} {side}"] = {
            "surface_type": kind,
            "construction_name": construction,
            "zone_name": cell.name,
            "number_of_vertices": len(corners),
            "vertices": [
                {"vertex_x_coordinate": x, "vertex_y_coordinate": y, "vertex_z_coordinate": z}
                for x, y, z in corners
            ],
            **more,
        }

    put("south", "Wall", "wall", _upright(west, 0, east, 0, high), **outdoors)
    put("north", "Wall", "wall", _upright(east, deep, west, deep, high), **outdoors)
    for side, other, ends in (
        ("west", neighbours[0], (west, deep, west, 0.0)),
        ("east", neighbours[1], (east, 0.0, east, deep)),
    ):
        if other is None:
            put(side, "Wall", "wall", _upright(*ends, high), **outdoors)
        else:
            back = f"{other} {'east' if side == 'west' else 'west'}"
            inner = {"outside_boundary_condition": "Surface", "outside_boundary_condition_object": back}
            put(side, "Wall", "partition" if side == "west" else "partition turned", _upright(*ends, high), **inner,
                sun_exposure="NoSun", wind_exposure="NoWind")  # fmt: skip
    put(
        "roof",
        "Roof",
        "roof",
        [(west, deep, high), (west, 0, high), (east, 0, high), (east, deep, high)],
        **outdoors,
    )
    put("floor", "Floor", "floor", [(east, deep, 0), (east, 0, 0), (west, 0, 0), (west, deep, 0)],
        outside_boundary_condition="Ground", sun_exposure="NoSun", wind_exposure="NoWind")  # fmt: skip
    _window(tables, cell, west, high)
    _inside(tables, cell)


def _upright(x0: float, y0: float, x1: float, y1: float, high: float) -> list[tuple[float, float, float]]:
    """A wall seen from outside, from its upper left corner counterclockwise."""
    return [(x0, y0, high), (x0, y0, 0.0), (x1, y1, 0.0), (x1, y1, high)]


def _window(tables: dict[str, Table], cell: Cell, west: float, high: float) -> None:
    wide = min(cell.wide - 0.4, cell.window_square_metres / 1.2)
    left, tall = west + (cell.wide - wide) / 2.0, cell.window_square_metres / wide
    top = min(high - 0.1, 0.9 + tall)
    corners = ((left, top), (left, top - tall), (left + wide, top - tall), (left + wide, top))
    tables.setdefault("FenestrationSurface:Detailed", {})[f"{cell.name} window"] = {
        "surface_type": "Window",
        "construction_name": "window",
        "building_surface_name": f"{cell.name} south",
        "number_of_vertices": 4,
    } | {
        f"vertex_{at}_{axis}_coordinate": value
        for at, (x, z) in enumerate(corners, 1)
        for axis, value in (("x", x), ("y", 0.0), ("z", z))
    }


def _inside(tables: dict[str, Table], cell: Cell) -> None:
    tables.setdefault("InternalMass", {})[f"{cell.name} furniture"] = {
        "construction_name": "furniture",
        "zone_or_zonelist_name": cell.name,
        "surface_area": cell.furniture_square_metres,
    }
    for name, radiant in ((AIR, 0.0), (SURFACES, 1.0)):
        tables.setdefault("OtherEquipment", {})[f"{cell.name} {name}"] = {
            "fuel_type": "None",
            "zone_or_zonelist_or_space_or_spacelist_name": cell.name,
            "schedule_name": "always",
            "design_level_calculation_method": "EquipmentLevel",
            "design_level": 0.0,
            "fraction_latent": 0.0,
            "fraction_radiant": radiant,
            "fraction_lost": 0.0,
        }
    tables.setdefault("ZoneInfiltration:DesignFlowRate", {})[f"{cell.name} leaks"] = {
        "zone_or_zonelist_or_space_or_spacelist_name": cell.name,
        "schedule_name": "always",
        "design_flow_rate_calculation_method": "AirChanges/Hour",
        "air_changes_per_hour": cell.changes_per_hour,
        "constant_term_coefficient": 0.606,
        "temperature_term_coefficient": 0.03636,
        "velocity_term_coefficient": 0.1177,
    }


def _doors(tables: dict[str, Table], building: Building) -> None:
    flow = building.door_cubic_metres_per_second
    for one, other in zip(building.cells, building.cells[1:], strict=False):
        for to, source in ((one, other), (other, one)):
            tables.setdefault("ZoneMixing", {})[f"door {source.name} to {to.name}"] = {
                "zone_or_space_name": to.name,
                "schedule_name": "always",
                "design_flow_rate_calculation_method": "Flow/Zone",
                "design_flow_rate": flow,
                "source_zone_or_space_name": source.name,
                "delta_temperature": 0.0,
            }
