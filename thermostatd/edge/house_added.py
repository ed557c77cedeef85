"""What other packages bring, adapters of plugs and addresses of notices: they must be there and take what stands."""

from __future__ import annotations

from pathlib import Path

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


def letter_findings(house: House, folder: Path) -> list[Finding]:
    """What is wrong with the notices' addresses; none of them is shown."""
    file = house.notices.addresses_file if house.notices else None
    if file is None:
        return []
    from thermostatd.edge.notices.addresses import AddressError, addresses_in, target_of

    try:
        for address in addresses_in(str(folder / file)):
            target_of(address)
    except AddressError as fault:
        what, _, mend = str(fault).partition(": ")
        return [
            Finding(
                ("notices", "addresses_file"),
                what,
                f"{(mend or 'mend that line')[:1].upper()}{(mend or 'mend that line')[1:]}",
            )
        ]
    return []
