"""Nightly learning in a short-lived process whose memory returns, and the history that it learns from on disk.

Rules: the child gets everything by its standard input and answers by its standard output; one that crashes, hangs
past its time or answers nonsense changes nothing and is logged; what was learned is adopted by the loop's own thread.
As the child: `python -m thermostatd.daemon.learning`.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
import os
import sys
from collections.abc import Mapping
from typing import Any

from thermostatd.core.house import House
from thermostatd.core.learning import History, fit
from thermostatd.core.values import Moment
from thermostatd.daemon.recorded import packed, unpacked
from thermostatd.edge.store import Store, StoreError

log = logging.getLogger(__name__)
KEEP_EVERY_SECONDS = 6 * 3600.0
SECONDS_A_ROOM, LEAST_SECONDS = 60.0, 120.0
ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
COMMAND = (sys.executable, "-m", "thermostatd.daemon.learning")
Models = dict[str, dict[str, Any]]


class LearningError(Exception):
    """Nothing was learned, and why."""


async def learn(
    house: House,
    history: History,
    known: Mapping[str, Mapping[str, Any]],
    *,
    command: tuple[str, ...] = COMMAND,
    seconds: float | None = None,
) -> Models:
    """What `fit` makes of a history, in a child process. LearningError where it fails, or passes its time."""
    question = json.dumps(
        {
            "house": house.model_dump(mode="json", by_alias=True, exclude={"broker", "pages", "notices"}),
            "history": history.to_plain(),
            "known": known,
        }
    ).encode()
    limit = seconds or max(LEAST_SECONDS, SECONDS_A_ROOM * len(house.rooms))
    pipe = asyncio.subprocess.PIPE
    child = await asyncio.create_subprocess_exec(
        *command, stdin=pipe, stdout=pipe, stderr=pipe, env=os.environ | ONE_THREAD
    )
    try:
        said, complaint = await asyncio.wait_for(child.communicate(question), limit)
    except TimeoutError as fault:
        raise LearningError(f"it took longer than {limit:.0f} s") from fault
    finally:
        if child.returncode is None:
            with contextlib.suppress(ProcessLookupError):
                child.kill()
            await child.wait()
    if child.returncode != 0:
        last = complaint.decode(errors="replace").strip().rpartition("\n")[2]
        raise LearningError(f"its process ended with {child.returncode}: {last[:300]}")
    return _models(said)


def _models(said: bytes) -> Models:
    try:
        models = json.loads(said)
        if isinstance(models, dict) and all(isinstance(model, dict) for model in models.values()):
            return models
    except ValueError:
        pass
    raise LearningError("its process gave no answer that can be read")


class KeptHistory:
    """A house's History that survives restarts: written now and then, and at the end."""

    def __init__(self, house: House, store: Store, names: Mapping[str, str] | None = None) -> None:
        """`names` are rooms' new names, `{old: new}`."""
        self._store = store
        self.history = _as_kept(house, store, names or {})
        self._kept_at: float | None = None

    def follow(self, house: House, names: Mapping[str, str] | None = None) -> None:
        """Go on with another house: rooms that stay, under whatever name, keep what was seen of them."""
        self.history = History.from_plain(house, json.loads(json.dumps(self.history.to_plain())), names)

    def due(self, moment: Moment) -> bool:
        """Whether it is time to write it."""
        if self._kept_at is None:
            self._kept_at = moment.steady
        return moment.steady - self._kept_at >= KEEP_EVERY_SECONDS

    def keep(self, moment: Moment) -> None:
        """Hand it to the store's next batch."""
        self._kept_at = moment.steady
        self._store.keep_learning(moment.wall, packed(self.history.to_plain()))


def _as_kept(house: House, store: Store, names: Mapping[str, str]) -> History:
    try:
        body = store.load_learning()
        return History(house) if body is None else History.from_plain(house, unpacked(body), names)
    except (StoreError, ValueError, TypeError, KeyError) as fault:
        log.error("what learning goes by cannot be read (%s): it begins anew", fault)
        return History(house)


def main() -> None:
    """The child: a question comes in, models go out."""
    out, sys.stdout = sys.stdout, sys.stderr  # whatever a library prints is no answer
    question = json.load(sys.stdin)
    house = House.model_validate(question["house"])
    models = fit(house, History.from_plain(house, question["history"]), question["known"])
    json.dump(models, out, allow_nan=False)
    out.flush()


if __name__ == "__main__":
    main()
