"""Plugs whose adapters other packages bring: they must be installed, and must take their settings."""

from __future__ import annotations

from thermostatd.core.house import AddedPlug, House
from thermostatd.core.house.places import heaters_of
from thermostatd.edge.house_faults import Finding


def added_findings(house: House) -> list[Finding]:
    """What is wrong with plugs of kind "added"."""
    found = []
    for place in heaters_of(house):
        if isinstance(place.heater.plug, AddedPlug):
            from thermostatd.edge.plugs.added import AddedPlugError, switch_of

            try:
                switch_of(place.heater.plug)
            except AddedPlugError as fault:
                mend = fault.mend[:1].upper() + fault.mend[1:]
                found.append(Finding((*place.path, "plug", fault.key), fault.what, mend))
    return found
