"""One process from start to end: signals, pages, nightly work, and the house.

Rules: SIGTERM, SIGINT and SIGHUP end it with every plug told OFF; the pages failing does not stop the heating; nightly
work (learning, backup, thinning) is the calendar's, not the tick's; nothing is thrown away by a clock that leapt.
"""

from __future__ import annotations

import asyncio
import logging
import signal
from collections.abc import Callable
from datetime import datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import uvicorn
from apscheduler.schedulers.asyncio import AsyncIOScheduler

from thermostatd.core.remembering import from_plain
from thermostatd.daemon.house_door import HouseDoor
from thermostatd.daemon.learning import LearningError, learn
from thermostatd.daemon.owner_socket import listen
from thermostatd.daemon.parts import Parts
from thermostatd.daemon.recorded import KEEP_DAYS as KEEP_INPUTS_DAYS
from thermostatd.daemon.service import Service
from thermostatd.edge.house_files import first_line
from thermostatd.edge.own_address import page_address
from thermostatd.edge.pages import create_app, serve
from thermostatd.edge.store import StoreError

log = logging.getLogger(__name__)
NIGHT = time(3, 40)
KEEP_MINUTES_DAYS, KEEP_EVENTS_DAYS, BACKUPS = 60, 400, 7


async def run(parts: Parts) -> None:
    """Run a house until a signal ends it."""
    service = Service(parts)
    door = HouseDoor(service)
    loop = asyncio.get_running_loop()
    for sign in _ending_signals():
        loop.add_signal_handler(sign, service.stop)
    log.info("%s: the page is at %s, the record in %s; a signal ends it, with every plug told OFF",
             parts.house.house.name, page_address(parts.house.pages), parts.state)  # fmt: skip
    server = _server(service, door)
    pages = asyncio.create_task(_serve(server, parts.house.pages.listen))
    nights = _nights(service, parts.state)
    owner = await _listen(door, parts.state)
    watching = asyncio.create_task(service.reloading.watch()) if service.reloading else None
    try:
        await service.run()
    finally:
        if service.reloading is not None and watching is not None:
            service.reloading.stop()
            watching.cancel()
        if owner is not None:
            owner.close()
        nights()
        server.should_exit = True
        await asyncio.wait({pages}, timeout=4.0)


def _ending_signals() -> list[signal.Signals]:
    """A closed terminal (SIGHUP) ends it as well, save for who asked that it should not, as nohup does."""
    hung_up = [] if signal.getsignal(signal.SIGHUP) is signal.SIG_IGN else [signal.SIGHUP]
    return [signal.SIGTERM, signal.SIGINT, *hung_up]


def _server(service: Service, door: HouseDoor) -> uvicorn.Server:
    pages = service.house.pages
    secret = first_line(pages.owner_passphrase_file) if pages.owner_passphrase_file else None
    app = create_app(
        door,
        now=lambda: (
            service.clock.now() / service.clock.speed
        ),  # visitors live at life's pace, also in the demo
        open=pages.open,
        passphrase=secret,
        tls=pages.tls is not None,
    )
    return serve(app, pages.listen, pages.tls)


async def _serve(server: uvicorn.Server, listen: str) -> None:
    """The pages; where they cannot be served, the heating goes on and the log says why."""
    try:
        await server.serve()
    except (OSError, SystemExit):
        log.error(
            "the pages cannot be served at %s: is the address this machine's, and the port free?", listen
        )


async def _listen(door: HouseDoor, state: Path) -> asyncio.Server | None:
    """The owner's socket; where there can be none, the heating goes on and the log says why."""
    try:
        return await listen(door, state)
    except OSError as fault:
        log.error("`thermostatd join` and `why` cannot be answered from %s: %s", state, fault)
        return None


def _nights(service: Service, state: Path) -> Callable[[], object]:
    """Nightly work from now on; gives what ends it. A house that lives faster than life has its own nights."""
    if service.clock.own_wall:
        return asyncio.create_task(_own_nights(service, state)).cancel
    calendar = AsyncIOScheduler(timezone=service.house.house.timezone)
    calendar.add_job(
        _night, "cron", hour=NIGHT.hour, minute=NIGHT.minute, args=[service, state], coalesce=True,
        misfire_grace_time=3600,
    )  # fmt: skip
    calendar.start()
    return lambda: calendar.shutdown(wait=False)


async def _own_nights(service: Service, state: Path) -> None:
    """By the house's own clock, which is no machine's."""
    zone = ZoneInfo(service.house.house.timezone)
    while True:
        moment = service.clock.moment()
        local = moment.wall.astimezone(zone)
        due = datetime.combine(local.date() + timedelta(days=local.time() >= NIGHT), NIGHT, zone)
        await service.clock.sleep_until(moment.steady + (due - moment.wall).total_seconds())
        await _night(service, state)


async def _learn(service: Service) -> None:
    """Learn in a process of its own; where that fails, what was learned before holds."""
    try:
        known = from_plain(service.regulator.memory).models
        service.adopt(await learn(service.house, service.learning.history, known))
    except LearningError as fault:
        log.error("nothing was learned tonight: %s; what was learned before holds", fault)
    except Exception:
        log.exception("nothing was learned tonight; what was learned before holds")


async def _night(service: Service, state: Path) -> None:
    """Learn, thin the record, and keep a backup of each of the last seven days."""
    await _learn(service)
    store, now = service.parts.store, service.clock.moment().wall
    try:
        backups = state / "backups"
        backups.mkdir(mode=0o700, exist_ok=True)
        if service.regulator.wall_proven:
            await asyncio.to_thread(store.thin, now - timedelta(days=KEEP_MINUTES_DAYS))
            await asyncio.to_thread(store.prune, now - timedelta(days=KEEP_EVENTS_DAYS))
            await asyncio.to_thread(store.forget_inputs, now - timedelta(days=KEEP_INPUTS_DAYS))
        else:
            log.warning("the clock has leapt, or is doubted: nothing old is thrown away until it has held for a week")
        await asyncio.to_thread(store.backup, backups / f"thermostatd-{now.toordinal() % BACKUPS}.db")
    except (StoreError, OSError) as fault:
        log.error("tonight's upkeep was not finished: %s", fault)
