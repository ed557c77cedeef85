"""A room as its heater, air, mass and sensor: the model, its filter, its fit, and the search over switchings.

Rules: pure, numpy only, imported once a room is controlled by its model; arrays are float64; a step is a minute;
watts, °C, seconds. Nothing here knows houses, rooms' names or clocks.
"""
