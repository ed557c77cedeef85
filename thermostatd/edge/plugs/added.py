"""Plugs that other packages bring, by the entry-point group `thermostatd.plugs`.

Rules: an entry point names a class; it is made with the file's `settings` and driven from a thread of its own, so
that it may take its time and may fail; what it says of its timer must be what the owner's file says.

    class Relay:
        switches_itself_off = True                  # whether `on` makes the plug end by itself, whatever dies
        def __init__(self, settings): ...           # ValueError("what is wrong: how to mend it")
        def on(self, seconds): ...
        def off(self): ...
        def state(self): ...                        # PlugReport(on=…, watts=…), or None
"""

from __future__ import annotations

from importlib.metadata import EntryPoint, entry_points
from typing import Any

from thermostatd.core.house import AddedPlug as Description
from thermostatd.edge.plugs.errands import Switch

GROUP = "thermostatd.plugs"


class AddedPlugError(ValueError):
    """Such a plug cannot be used; `key` of the plug's table is meant, and the mend says what to write."""

    def __init__(self, key: str, what: str, mend: str) -> None:
        super().__init__(f"{what}: {mend}")
        self.key, self.what, self.mend = key, what, mend


def switch_of(plug: Description) -> Switch:
    """The switch that the package makes. AddedPlugError where it is not installed, or does not take the settings."""
    point = _found(plug.adapter)
    try:
        kind: Any = point.load()
    except Exception as fault:
        mend = "update or mend that package"
        raise AddedPlugError(
            "adapter", f'"{plug.adapter}" cannot be loaded ({fault!s:.100})', mend
        ) from fault
    if getattr(kind, "switches_itself_off", None) is not plug.has_timer:
        owns = "makes" if plug.has_timer is False else "does not make"
        mend = f"write has_timer = {'false' if plug.has_timer else 'true'}"
        raise AddedPlugError("has_timer", f'"{plug.adapter}" {owns} a plug end by itself', mend)
    try:
        made: Switch = kind(dict(plug.settings))
    except Exception as fault:
        raise AddedPlugError(
            "settings", f'"{plug.adapter}" does not take them ({fault!s:.200})', "mend them"
        ) from fault
    return made


def _found(name: str) -> EntryPoint:
    points = {point.name: point for point in entry_points(group=GROUP)}
    if name not in points:
        known = ", ".join(sorted(points)) or "none yet"
        what = f'no installed package brings an adapter "{name}"'
        raise AddedPlugError("adapter", what, f"install it beside thermostatd, or write one of: {known}")
    return points[name]
