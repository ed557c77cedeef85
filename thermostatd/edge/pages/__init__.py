"""The household's page and its JSON API. Both reach the house through one `Door`."""

from thermostatd.edge.pages.app import create_app, serve
from thermostatd.edge.pages.door import Device, Door, Role, View

__all__ = ["Device", "Door", "Role", "View", "create_app", "serve"]
