"""Cautions on circuits and currents.

Currents are those at the highest mains voltage (nominal and its tolerance), since a resistive heater draws
the most there. Sources: NEC 210.20 and 210.23(A)(1), 80 % of the breaker for loads of three hours or more;
about 10 A for long loads on a BS 1363 13 A plug (practitioners' advice, second-hand).
"""

from __future__ import annotations

from collections.abc import Iterator

from thermostatd.core.house import House
from thermostatd.core.house.currents import SLACK_AMPS, amps_at_high_mains, amps_at_nominal, continuous_amps
from thermostatd.core.house.places import Place, heaters_of
from thermostatd.core.house.remarks import Caution, Danger, plain
from thermostatd.physics.wiring import BS1363_LONG_LOAD_AMPS


def wiring_cautions(house: House) -> Iterator[Caution]:
    """Every caution on circuits and on what plugs are rated for."""
    for place in heaters_of(house):
        yield from _circuit(house, place)
        yield from _rating(house, place)
    yield from _sums(house)


def _circuit(house: House, place: Place) -> Iterator[Caution]:
    circuit = house.circuit(place.heater.circuit)
    if circuit is None:
        what = "no circuit is named, so its load is not counted against any breaker"
        yield Caution((*place.path, "circuit"), what, 'Write circuit = "…" with the name of a [[circuit]]')
        return
    amps, share = amps_at_high_mains(place.heater.watts, house.house), continuous_amps(circuit)
    if amps > share + SLACK_AMPS:
        what = (
            f"{plain(place.heater.watts)} W draws {plain(amps)} A at high mains, over the {plain(share)} A "
            f'that "{circuit.name}" carries for hours'
        )
        mend = "It is not switched on: set the selector lower, or use a stronger circuit"
        yield Caution((*place.path, "watts"), what, mend)


def _rating(house: House, place: Place) -> Iterator[Caution]:
    rated, amps = place.heater.plug.rated_amps, amps_at_high_mains(place.heater.watts, house.house)
    highest = amps_at_high_mains(max((*place.heater.settings_watts, place.heater.watts)), house.house)
    where = (*place.path, "plug", "rated_amps")
    if rated is None:
        what = f"the plug's rating is not given; the heater draws {plain(amps)} A at high mains"
        yield Caution(where, what, "Read the continuous resistive rating on the plug, and write it")
    elif rated < amps_at_nominal(place.heater.watts, house.house) - SLACK_AMPS:
        return  # a clash
    elif rated < amps - SLACK_AMPS:
        what = f"{plain(rated)} A is too low for {plain(amps)} A, the heater's current at high mains"
        yield Danger(where, what, "Use a plug rated higher, or set the selector lower")
    elif rated < highest - SLACK_AMPS:
        what = f"{plain(rated)} A is too low for {plain(highest)} A, the heater's current on its highest setting"
        yield Danger(where, what, "Use a plug rated higher, and see that nobody turns the selector up until then")
    elif rated == 13 and amps > BS1363_LONG_LOAD_AMPS + SLACK_AMPS:
        what = f"{plain(amps)} A for hours is more than the 10 A or so advised on a 13 A plug"
        yield Caution(where, what, "Set the selector lower; feel plug and socket in the first hours")


def _sums(house: House) -> Iterator[Caution]:
    for index, circuit in enumerate(house.circuits):
        share = continuous_amps(circuit)
        each = [
            amps_at_high_mains(place.heater.watts, house.house)
            for place in heaters_of(house)
            if place.heater.circuit == circuit.name
        ]
        fit = [one for one in each if one <= share + SLACK_AMPS]  # who does not has no turn: said at the heater
        amps = sum(fit)
        if len(fit) > 1 and amps > share + SLACK_AMPS:
            what = f"its {len(fit)} heaters draw {plain(amps)} A, over the {plain(share)} A for long loads"
            mend = "They will take turns; set selectors lower if rooms stay cool"
            yield Caution(("circuit", index), what, mend)
