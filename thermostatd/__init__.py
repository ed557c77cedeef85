"""thermostatd heats rooms with portable electric heaters on smart plugs."""
