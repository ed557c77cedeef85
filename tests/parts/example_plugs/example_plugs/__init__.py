"""A relay that is a file: an example of an adapter that another package brings."""

from __future__ import annotations

import json
import time
from pathlib import Path

from thermostatd.core.values import PlugReport


class RelayFile:
    """`settings` has the file's name, and may have what its meter shows when on."""

    switches_itself_off = True

    def __init__(self, settings: dict[str, object]) -> None:
        unknown = set(settings) - {"file", "watts"}
        if unknown or "file" not in settings:
            raise ValueError('"file" is needed, "watts" may stand beside it')
        self._file, self._watts = Path(str(settings["file"])), float(str(settings.get("watts", 541.0)))

    def on(self, seconds: int) -> None:
        """Closed until a time of the machine's clock."""
        self._file.write_text(json.dumps({"until": time.time() + seconds}))

    def off(self) -> None:
        """Open."""
        self._file.write_text(json.dumps({"until": 0}))

    def state(self) -> PlugReport | None:
        """What the file says."""
        on = time.time() < json.loads(self._file.read_text())["until"]
        return PlugReport(on=on, watts=self._watts if on else 0.0, volts=230.0)
