"""Watches a heater's runs by its meter, keeps its levels, and tells openings of its cut-out from other falls.

Rules: nothing is done at a tick that brought no report; an opening to nothing counts once power is back; one to a
lower level counts at once, and is taken back if the level stays low on a cold body, or is never seen again.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from thermostatd.core.body.brackets import opened_at_most
from thermostatd.core.memory import Notes
from thermostatd.core.meter import interrupted, lessons, levels, logbook, run
from thermostatd.core.meter.diagnosis import another_level, cover, dial, elements, naming, suspicion
from thermostatd.core.meter.power import Power, near, power_of
from thermostatd.core.meter.run import Happening
from thermostatd.core.meter.warmth import cool_to, later, tau_seconds
from thermostatd.core.plug import drawing_floor_watts, evidence_watts

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

CODE = "cut-out"
FAR_SHARE = 0.4  # an opening earlier still is none: no cover makes a body open so cold
COLD_SHARE, SURELY_COLD_SHARE, COVERED_COLD_SHARE = 0.4, 0.12, 0.05
COVERED_HOT_SHARE, COVERED_COOLS = 0.6, 2.5  # of what it stood before, and of a free body's time
HOT_SHARE = 0.5  # a cover opens it from about two thirds of the rise at which it opens free
SOON_SECONDS = 120.0  # no cold body opens so soon
FOUND_SECONDS = 2400.0  # on its low element a covered body opens its second switch sooner
STUCK_SECONDS = 7200.0
OVERHEATS_SECONDS = 7200.0  # after its cut-out opened, rests included
BACK_SECONDS, SLOW_BACK_SECONDS = 2400.0, 5400.0


def follow(case: Case) -> None:
    """Take in what is new of this heater."""
    notes, kept = case.notes(CODE), case.kept
    if notes.pop("hot_yet", False):
        _may_be_hot_yet(case, notes)
    if not kept.told_on:
        _off(case, notes)
        return
    if kept.on_since is not None and notes.get("on_at") != kept.on_since:
        tau = tau_seconds(case.heater.kind)
        if "on_at" in notes:
            run.end(notes, kept.on_since, tau)
        run.begin(notes, kept.on_since, tau)
        logbook.switched(notes, kept.on_since, on=True)
    if kept.watts_at == notes.get("judged_at") or kept.shown_on is False:
        return
    notes["judged_at"] = kept.watts_at
    power = power_of(kept, case.heater, case.house.house.mains_volts)
    if power is not None:
        _heard(case, notes, power)


def _may_be_hot_yet(case: Case, notes: Notes) -> None:
    """Whoever looked may have taken a cover away, and what lay under it cooled far more slowly than a free body does;
    or turned its dial up, at which it ran more than reports far apart have shown."""
    tau, now = tau_seconds(case.heater.kind), case.now.steady
    rested = now - notes.get("warm_at", -inf)
    hot = COVERED_HOT_SHARE * max((one[1] for one in notes.get("proven", [])), default=0.0)
    cool_to(notes, now, tau)
    notes["warmth"] = round(max(notes["warmth"], later(hot, 0.0, rested, COVERED_COOLS * tau)), 1)


def _off(case: Case, notes: Notes) -> None:
    """It is off: its run, if there was one, is over."""
    kept = case.kept
    if "on_at" in notes:
        if notes.get("level") is None and notes.get("early") is not None:
            another_level.flowed(case, notes["early"][0], bool(kept.volts))
        run.end(notes, kept.off_since or case.now.steady, tau_seconds(case.heater.kind))
        logbook.switched(notes, kept.off_since or case.now.steady, on=False)
    if (evidence_watts(kept) or 0.0) > drawing_floor_watts(case.heater):
        notes["stuck_at"] = case.now.steady  # heated all the same: how warm it is nobody knows
        logbook.drop(notes)


def _heard(case: Case, notes: Notes, power: Power) -> None:
    known = [*case.heater.settings_watts, *(level.watts for level in case.kept.facts.levels)]
    happened = run.hear(notes, power, known, tau_seconds(case.heater.kind))
    if power.slow and power.proves:
        logbook.count_late(notes, power, notes["on_at"])
        if not power.nothing:
            notes["flowed_at"] = power.at
    if not _stuck_lately(case, notes):
        logbook.reported(case, notes, power)
    interrupted.judge(case, notes)
    for happening in happened:
        _HANDLE[happening.what](case, notes, power, happening)


def _started(case: Case, notes: Notes, power: Power, this: Happening) -> None:
    if not this.after:
        _started_on_nothing(case, notes, power, this)
        return
    opened = notes.get("open")
    if notes.get("gone") is not None:
        _back(case, notes, power, this.after, this.lo_at)
    if opened is not None and _is_over(case, notes, opened, this.after, power.exact):
        opened = None
    if opened is not None and _covered_and_open(case, opened, power, this):
        return
    if power.slow and case.kept.body.opened:
        return  # it may have opened within this run, or be open yet: told so late, only a cold start decides
    if opened is None and _may_be_found_open(case, notes, power, this.after):
        opened = notes["open"]
    warm = opened is not None and this.lo_warmth > COLD_SHARE * opened["warmth"]
    if opened is not None and not power.slow:
        warm = _stuck_lately(case, notes) or _may_be_open_yet(opened, this.lo_warmth)
        warm = warm and not opened.get("odd")
    _begins(case, notes, power, this.after, warm)
    _held(case, notes, power, this)


def _started_on_nothing(case: Case, notes: Notes, power: Power, this: Happening) -> None:
    """The first that a slow meter shows of a run is nothing, and power flowed lately: it went in between. Where a
    cut-out would leave an element that is all its dial's doing; elsewhere it may have been open yet."""
    usual: float | None = case.kept.notes.get(naming.NOTES, {}).get("usual")
    flowed = power.at - notes.get("flowed_at", -inf)
    if usual is None or not power.slow or "gone" in notes or not 0.0 < flowed <= SLOW_BACK_SECONDS:
        return
    if elements.leaves_an_element(case, usual):
        most = later(notes["cold"], usual, power.at - notes["on_at"], tau_seconds(case.heater.kind))
        before = Happening("gone", usual, 0.0, this.lo_at, this.hi_at, notes["cold"], most)
        notes["gone"] = _opening(notes, before) | {"after": 0.0}


def _is_over(case: Case, notes: Notes, opened: Notes, watts: float, exact: bool) -> bool:
    """Whether more flows than an opening left: it has closed, or what opened was left for another level."""
    if near(watts, opened["after"], exact) or watts < opened["after"]:
        return False
    notes.pop("open")
    if opened.get("odd") and near(watts, opened["before"], exact) and not naming.is_less(case.kept):
        lessons.learn(case, opened)  # no element comes back by itself: this cut-out leaves what no other does
    return True


def _stuck_lately(case: Case, notes: Notes) -> bool:
    """Whether it drew though it was off, not long ago."""
    return bool(0.0 <= case.now.steady - notes.get("stuck_at", -inf) < STUCK_SECONDS)


def _may_be_open_yet(opened: Notes, warmth: float) -> bool:
    """Whether its cut-out may be open still: a cover keeps a body hot for long, but on its low element not for long."""
    ran_long = opened.get("ran", 0.0) >= FOUND_SECONDS
    return bool(warmth > (COLD_SHARE if ran_long else SURELY_COLD_SHARE) * opened["warmth"])


def _begins(case: Case, notes: Notes, power: Power, level: float, warm: bool) -> None:
    """A run began on a level: what was taken for open is another level, if the body is cold by now."""
    opened = notes.get("open")
    found = opened is not None and bool(opened.get("found"))
    if another_level.began(case, power, level, None if found else opened, warm, _is_sure(case, notes, power)):
        lessons.take_back(case, notes)
    elif found and not warm:
        notes["found"] = notes.pop("open")


def _is_sure(case: Case, notes: Notes, power: Power) -> bool:
    """Whether nothing can have opened in this run yet: it began cold, and that is told soon."""
    if _stuck_lately(case, notes):
        return False
    stood = max((one[1] for one in notes.get("proven", [])), default=0.0)
    return bool(power.at - notes["on_at"] <= SOON_SECONDS and notes.get("cold", stood) < SURELY_COLD_SHARE * stood)


def _may_be_found_open(case: Case, notes: Notes, power: Power, level: float) -> bool:
    """Less than usual after a short rest of a hot body: a cover thrown over it opens its cut-out while it is off."""
    usual = case.notes(naming.NOTES).get("usual")
    if power.slow or usual is None or level >= usual or near(level, usual, power.exact):
        return False
    proven = run.proven_warmth(notes, usual, power.exact)
    hot = proven if _stuck_lately(case, notes) else notes.get("hot", 0.0)
    if naming.is_less(case.kept) or not proven or not hot or hot < HOT_SHARE * proven:
        return False
    if not elements.may_be_left(case, usual, level, power.exact):
        return False
    hot = round(hot, 1)
    notes["open"] = {
        "on_at": notes["on_at"], "before": usual, "after": level, "at": notes["on_at"], "seconds": 0.0,
        "warmth": hot, "most": hot, "found": True,
    }  # fmt: skip
    return True


def _covered_and_open(case: Case, opened: Notes, power: Power, this: Happening) -> bool:
    """A body under a cover cools so slowly that its cut-out is open yet: low power is no other level before an hour."""
    suspected = bool(case.kept.notes.get("covered", {}).get("tries"))
    hot = this.lo_warmth > COVERED_COLD_SHARE * opened["warmth"] and not opened.get("odd")
    if not suspected or not hot or not near(this.after, opened["after"], power.exact):
        return False
    cover.still_open(case, this.lo_at - opened["at"])
    return True


def _held(case: Case, notes: Notes, power: Power, this: Happening) -> None:
    if not this.after:
        return
    levels.see(case.kept.facts, this.after, case.now.best.timestamp(), power.exact)
    opened = notes.get("open")
    if opened is not None:
        _ran_on(opened, notes["on_at"], power.at)
        return
    proven = run.proven_warmth(notes, this.after, power.exact)
    at_its_dial = power.slow and naming.is_dial(case.kept)
    if proven and (logbook.flows_past_a_dial(notes) if at_its_dial else logbook.flows_on(notes)):
        suspicion.stood(case, this.hi_warmth / proven)
    if not _stuck_lately(case, notes):
        run.prove(notes, this.after, this.hi_warmth, power.exact)


def _ran_on(opened: Notes, on_at: float, at: float) -> None:
    """How long it has drawn what its cut-out leaves, s, over its runs."""
    since = opened["told"] if opened.get("in") == on_at else max(on_at, opened["at"])
    opened.update({"ran": round(opened.get("ran", 0.0) + max(at - since, 0.0)), "told": at, "in": on_at})


def _fell(case: Case, notes: Notes, power: Power, this: Happening) -> None:
    early = _early(notes, power, this)
    if "open" not in notes and not another_level.turned_back(case, power, this.before, this.after, early):
        notes["open"] = _opening(notes, this) | {"after": this.after}
        if elements.may_be_left(case, this.before, this.after, power.exact):
            _opened(case, notes, power, notes["open"])
        else:
            notes["open"]["odd"] = True
    _held(case, notes, power, this)


def _early(notes: Notes, power: Power, this: Happening) -> bool:
    """Whether that was far colder than what it stood on this level before."""
    proven = run.proven_warmth(notes, this.before, power.exact)
    return proven is not None and this.hi_warmth < suspicion.EARLY_SHARE * proven


def _gone(case: Case, notes: Notes, power: Power, this: Happening) -> None:
    opened = notes.get("open", notes.pop("found", None))
    if (
        opened is not None
        and not opened.get("odd")
        and this.at - opened["at"] <= OVERHEATS_SECONDS
        and near(this.before, opened["after"], power.exact)
    ):
        cover.overheated(case, opened)
        if opened.get("found"):
            another_level.was_its_cut_out(case)
    else:
        notes["gone"] = _opening(notes, this) | {"after": 0.0}


def _rose(case: Case, notes: Notes, power: Power, this: Happening) -> None:
    opened = notes.get("open")
    if not this.before:
        _back(case, notes, power, this.after, this.at)
    elif opened is not None and near(this.after, opened["before"], power.exact):
        _is_over(case, notes, opened, this.after, power.exact)
        _say(notes, "cut-out-closed", watts=this.after)
    else:
        another_level.rose(case, power, this.after)
    _held(case, notes, power, this)


def _back(case: Case, notes: Notes, power: Power, watts: float, at: float) -> None:
    """Power is back after nothing: that was its cut-out or its dial, unless no body takes so long to cool."""
    gone = notes.pop("gone", None)
    off_seconds = at - gone["at"] if gone is not None else -1.0
    longest = SLOW_BACK_SECONDS if power.slow else BACK_SECONDS
    if gone is None or not near(watts, gone["before"], power.exact) or not 0 <= off_seconds <= longest:
        return
    if _stuck_lately(case, notes):
        return
    proven = run.proven_warmth(notes, gone["before"], power.exact)
    found = logbook.read(case, notes)
    unsure = not (found is not None and found.is_covered)
    if dial.came_back(case, power, gone, off_seconds, proven, unsure):
        lessons.forget_openings_to_nothing(case, gone["before"])
        lessons.unlearn(case, suspicion.began_wall(case))
    elif elements.has_no_cut_out(case, gone["before"]):
        return
    elif power.slow and elements.leaves_an_element(case, gone["before"]):
        return  # told so late, nothing speaks for a cut-out that takes all
    elif not (naming.is_dial(case.kept) or (found is not None and found.is_early)) and (
        proven is None or gone["most"] >= suspicion.EARLY_SHARE * proven
    ):
        lessons.learn(case, gone)
        logbook.drop(notes)  # it was free
    notes["openings"] = int(notes.get("openings", 0)) + 1
    _say(notes, "cut-out-opened", before=gone["before"], after=0.0)
    _say(notes, "cut-out-closed", watts=watts)


def _opening(notes: Notes, this: Happening) -> Notes:
    return {
        "on_at": notes["on_at"],
        "before": this.before,
        "at": round(this.at, 1),
        "seconds": round(this.at - notes["on_at"], 1),
        "warmth": round(0.5 * (this.lo_warmth + this.hi_warmth), 1),
        "most": round(this.hi_warmth, 1),
    }


def _opened(case: Case, notes: Notes, power: Power, opened: Notes) -> None:
    """An opening to a lower level: covered, if it comes far too early; else one to learn from."""
    proven = run.proven_warmth(notes, opened["before"], power.exact)
    share = opened["most"] / proven if proven else 1.0
    if (
        case.kept.body.fall is not None
    ):  # its store may be larger than usual, and it warm yet from the run before
        share = max(share, opened_at_most(case.kept.body, case.kept.body.fall))
    suspected = bool(case.kept.notes.get("covered", {}).get("tries"))
    if _stuck_lately(case, notes):
        pass  # how warm it was nobody knows
    elif share < suspicion.EARLY_SHARE and (share >= FAR_SHARE or suspected):
        cover.opened_early(case, opened, proven or 1.0)
    elif share >= suspicion.EARLY_SHARE:
        opened["wall"] = lessons.learn(case, opened)
    notes["openings"] = int(notes.get("openings", 0)) + 1
    _say(notes, "cut-out-opened", before=opened["before"], after=opened["after"])


def _say(notes: Notes, code: str, **numbers: float) -> None:
    notes.setdefault("news", []).append([code, numbers])


_HANDLE = {"started": _started, "held": _held, "fell": _fell, "gone": _gone, "rose": _rose}
