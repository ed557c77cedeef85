"""A bad contact shows as volts lost per ampere, and the mains' own drift does not."""

from random import Random

import pytest

from tests.bench.diagnosis.mains import NOMINAL_VOLTS, recorded_volts
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.meter import socket


def switched(ohms, *, watts=600.0, gap=300.0, times=24, seed=2, nominal=230.0):
    """A heater switched on and off by turns on a real household's mains; after how many switchings it was told."""
    record = recorded_volts(4, seed)
    notes, kept, rng = {}, HeaterMemory(), Random(seed)
    load = nominal * nominal / watts
    for n in range(2 * times):  # two reports on either side of each switching
        volts = record[int(n * gap // 60)] * nominal / NOMINAL_VOLTS
        amps = volts / (load + ohms + 0.15) if n // 2 % 2 else 0.0
        kept.volts, kept.watts_at = round(volts - amps * (ohms + 0.15), 1), 1000.0 + n * gap
        kept.watts = amps * amps * load * rng.uniform(0.998, 1.002)
        if socket.hear(notes, kept, True, nominal):
            return n // 2
    return None


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize(("watts", "gap"), [(600.0, 300.0), (1400.0, 300.0), (600.0, 60.0)])
def test_a_sound_socket_is_not_accused(seed, watts, gap):
    """On a recorded household's mains (UCI, CC BY 4.0), whose volts move by themselves, nothing is told
    in 400 switchings."""
    assert switched(0.0, watts=watts, gap=gap, times=400, seed=seed) is None


@pytest.mark.parametrize("seed", range(8))
def test_a_bad_contact_is_told_within_two_dozen_switchings(seed):
    """1.5 ohm under 1400 W: 9 V lost, which no household's mains loses each time by itself."""
    assert switched(1.5, watts=1400.0, seed=seed) is not None


def test_at_120_volts_it_is_judged_in_proportion():
    """The same share of the voltage lost is the same contact (derived: R scales with the square of the voltage)."""
    assert switched(1.5 * (120 / 230) ** 2, watts=1400.0, nominal=120.0) is not None


@pytest.mark.parametrize(
    ("others", "own_ohms", "told"),
    [(2700.0, 0.0, False), (2700.0, 2.0, True), (0.0, 1.2, True), (-2700.0, 2.0, True), (-2700.0, 0.0, False)],
)
def test_what_other_heaters_lose_on_the_common_way_is_not_this_sockets(others, own_ohms, told):
    """A house that switches as one, at night and when all come home, drops its volts at each plug: 0.15 ohm on the
    common way. A contact that is bad shows all the same, also where the others go off as it comes on. All invented."""
    notes, kept, evidence = {}, HeaterMemory(), None
    for n in range(60):
        on, beside = n % 2, max(others, 0.0) if n % 2 else max(-others, 0.0)
        kept.watts, kept.watts_at = 600.0 * on, 1000.0 + n * 20.0
        kept.volts = 230.0 - 0.15 * (beside + 600.0 * on) / 230.0 - own_ohms * 600.0 * on / 230.0
        evidence = evidence or socket.hear(notes, kept, True, 230.0, beside)
    assert bool(evidence) is told
