"""Tells the owner of troubles, outside the page and the broker."""

from thermostatd.edge.notices.notices import Notices

__all__ = ["Notices"]
