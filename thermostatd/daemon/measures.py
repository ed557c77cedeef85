"""What a time-series collector may read: OpenMetrics text of the last decision, names with base units."""

from __future__ import annotations

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
        failed = CounterMetricFamily("thermostatd_failed_ticks", "Ticks that did not decide.")
        failed.add_metric([], service.failed_ticks)
        return [up, failed, *(_of_result(result, service) if result is not None else [])]


def _of_result(result: Result, service: Service) -> list[Metric]:
    air = GaugeMetricFamily("thermostatd_air_celsius", "Air of a room.", labels=["room"], unit="celsius")
    target = GaugeMetricFamily(
        "thermostatd_target_celsius", "Target of a room.", labels=["room"], unit="celsius"
    )
    for name, room in result.rooms.items():
        if isinstance(room.air, Reading):
            air.add_metric([name], room.air.celsius)
        target.add_metric([name], room.target.celsius)
    on = GaugeMetricFamily("thermostatd_heater_on", "Whether a heater is ordered on.", labels=["heater"])
    operations = CounterMetricFamily(
        "thermostatd_relay_operations", "Switchings ordered since the memory began.", labels=["heater"]
    )
    for key, order in result.orders.items():
        on.add_metric([key], float(order.on))
    for key, count in service.regulator.operations().items():
        operations.add_metric([key], count)
    troubles = GaugeMetricFamily("thermostatd_troubles", "Troubles that hold now.")
    troubles.add_metric([], len(result.troubles))
    return [air, target, on, operations, troubles]


def metrics_text(service: Service) -> str:
    """The metrics as OpenMetrics text."""
    registry = CollectorRegistry(auto_describe=False)
    registry.register(_House(service))
    text: bytes = generate_latest(registry)  # type: ignore[no-untyped-call]
    return text.decode()
