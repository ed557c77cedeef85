"""A simulated house behind the same faces as a real one; everything in it is invented."""

from thermostatd.rehearsal.house import SimulatedHouse
from thermostatd.rehearsal.plugs import MeterTraits
from thermostatd.rehearsal.sensors import SensorTraits

__all__ = ["MeterTraits", "SensorTraits", "SimulatedHouse"]
