"""What a time-series collector may read: OpenMetrics text of the last decision, names with base units."""

from __future__ import annotations

from collections import Counter

from prometheus_client import CollectorRegistry
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.openmetrics.exposition import generate_latest
from prometheus_client.registry import Collector

from thermostatd.core.results import Result
from thermostatd.core.values import Reading
from thermostatd.daemon.service import Service


class _House(Collector):
    """Gives the metrics of one service at the moment it is asked."""

    def __init__(self, service: Service) -> None:
        self._service = service

    def collect(self) -> list[Metric]:
        """All families."""
        service, result = self._service, self._service.result
        up = GaugeMetricFamily("thermostatd_broker_connected", "Whether the broker is reached.")
        up.add_metric([], float(service.parts.broker_up))
        writes = GaugeMetricFamily("thermostatd_store_writing", "Whether the record reaches the disk.")
        writes.add_metric([], float(service.parts.store.writing))
        failed = CounterMetricFamily("thermostatd_failed_ticks", "Ticks that did not decide.")
        failed.add_metric([], service.failed_ticks)
        found = [up, writes, failed]
        if service.decided_at is not None:
            age = GaugeMetricFamily(
                "thermostatd_decision_age_seconds", "Since the last tick that decided.", unit="seconds"
            )
            age.add_metric([], max(0.0, service.clock.now() - service.decided_at.steady))
            found.append(age)
        return [*found, *(_of_result(result, service) if result is not None else [])]


def _of_result(result: Result, service: Service) -> list[Metric]:
    return [*_of_rooms(result), *_of_heaters(result, service), *_of_house(result)]


def _of_rooms(result: Result) -> list[Metric]:
    air = GaugeMetricFamily("thermostatd_air_celsius", "Air of a room.", labels=["room"], unit="celsius")
    target = GaugeMetricFamily(
        "thermostatd_target_celsius", "Target of a room.", labels=["room"], unit="celsius"
    )
    share = GaugeMetricFamily(
        "thermostatd_demand_ratio", "Share of full power that a room asks for.", labels=["room"], unit="ratio"
    )
    for name, room in result.rooms.items():
        if isinstance(room.air, Reading):
            air.add_metric([name], room.air.celsius)
        target.add_metric([name], room.target.celsius)
        share.add_metric([name], room.demand.share)
    return [air, target, share]


def _of_heaters(result: Result, service: Service) -> list[Metric]:
    on = GaugeMetricFamily("thermostatd_heater_on", "Whether a heater is ordered on.", labels=["heater"])
    joules = CounterMetricFamily(
        "thermostatd_heater_energy_joules", "Energy since the start.", labels=["heater"], unit="joules"
    )
    operations = CounterMetricFamily(
        "thermostatd_relay_operations", "Switchings ordered since the memory began.", labels=["heater"]
    )
    for key, order in result.orders.items():
        on.add_metric([key], float(order.on))
    for key, energy in service.joules().items():
        joules.add_metric([key], energy)
    for key, count in service.regulator.operations().items():
        operations.add_metric([key], count)
    return [on, joules, operations]


def _of_house(result: Result) -> list[Metric]:
    outdoor = GaugeMetricFamily("thermostatd_outdoor_celsius", "Air outdoors.", unit="celsius")
    if isinstance(result.house.outdoor, Reading):
        outdoor.add_metric([], result.house.outdoor.celsius)
    troubles = GaugeMetricFamily(
        "thermostatd_troubles", "Troubles that hold now, by their code.", labels=["code"]
    )
    codes = Counter(trouble.code for trouble in result.troubles)
    for code, count in codes.items():
        troubles.add_metric([code], count)
    return [outdoor, troubles]


def metrics_text(service: Service) -> str:
    """The metrics as OpenMetrics text."""
    registry = CollectorRegistry(auto_describe=False)
    registry.register(_House(service))
    text: bytes = generate_latest(registry)  # type: ignore[no-untyped-call]
    return text.decode()
