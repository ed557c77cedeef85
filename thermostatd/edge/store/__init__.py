"""What the house remembers: requests, memory, events, minutes, devices, in one SQLite file."""

from thermostatd.edge.store.inputs import InputRow, SegmentRow
from thermostatd.edge.store.rows import (
    CodeRow,
    DeviceRow,
    EventRow,
    HeaterMinuteRow,
    MinuteRow,
    RequestRow,
    Stamp,
    StoreError,
)
from thermostatd.edge.store.store import Store

__all__ = [
    "CodeRow",
    "DeviceRow",
    "EventRow",
    "HeaterMinuteRow",
    "InputRow",
    "MinuteRow",
    "RequestRow",
    "SegmentRow",
    "Stamp",
    "Store",
    "StoreError",
]
