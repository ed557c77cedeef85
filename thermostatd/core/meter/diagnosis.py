"""Names what a heater's runs have shown: covered, dial down, an element out, the selector moved.

Rules, by what the meter can tell apart:
- A fall that comes back on a cold body is the heater's own cut-out. Far earlier than this heater has stood it before,
  it is covered or against a wall; so is a body that opens its second switch on its low element.
- To nothing and back, early, again and again and soon: the dial on the heater. A cut-out lets the body cool longer,
  or leaves the low element.
- Another level from switch-on that stays: higher, or lower between two runs and one of its settings, someone turned
  the selector. Lower and none of its settings: an element. Lower in the middle of a run and one of its settings:
  either; the meter cannot know, a look at the selector does. A slow meter never sees when it fell: either, too.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermostatd.core.body.lessons import forget_since, tell
from thermostatd.core.memory import HeaterMemory, Notes
from thermostatd.core.meter.power import Power, near
from thermostatd.core.meter.warmth import tau_seconds
from thermostatd.core.results import Verdict
from thermostatd.core.said import said

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

NOTES = "meter"
ADVICE = ("element-out", "selector-moved", "less-power", "dial-down")
PAUSES_SECONDS = (1800.0, 3600.0, 7200.0)
SOON_SECONDS, SOON_UNLEARNED_SECONDS, FAR_SHARE = 600.0, 480.0, 0.45
CYCLES_SECONDS = 3 * 3600.0
MOST_CYCLES = 6
EARLY_SHARE, LOWER_SHARE = 0.8, 0.95
LEARNING_RUNS = 2
SURELY_EARLY_SHARE = 0.79
SLOW_LEARNED_RUNS = 12  # a slow meter has hardly seen it warm before: "earlier than before" says little
PAST_DIAL_SHARE = 0.25  # a run so much further than the dial let it go: the dial was turned up again


def covered(case: Case, evidence: str, unsure: bool = False) -> None:
    """Its cut-out has spoken far too early: off, for longer each time, then until someone has looked.

    `unsure`: it may as well be its dial, which what was seen does not tell yet.
    """
    notes, body = case.notes("covered"), case.kept.body
    tries = int(notes.get("tries", 0))
    if body.lessons:  # what it did under the cover taught nothing of the body
        forget_since(body, began_wall(case), LOWER_SHARE)
        tell(body, case.kept.facts)
    notes.update(
        tries=tries + 1,
        at=case.now.steady,
        pause_until=case.now.steady + PAUSES_SECONDS[min(tries, 2)],
        latched=tries >= len(PAUSES_SECONDS),
        evidence=evidence,
        unsure=unsure and (not tries or bool(notes.get("unsure"))),
    )


def began_wall(case: Case) -> float:
    """The wall time since when what is named now may have been at work: what the log holds, three hours at least."""
    log = _log(case)
    gone = max(CYCLES_SECONDS, case.now.steady - log["at"] if log else 0.0)
    return case.now.best.timestamp() - gone


def is_interrupted(case: Case) -> bool:
    """Whether power went to nothing lately, and may have done so unseen between the reports since."""
    return _log(case) is not None


def _log(case: Case) -> Notes | None:
    log: Notes | None = case.kept.notes.get("cut-out", {}).get("log")
    return log


def suspects(case: Case) -> bool:
    """Whether something keeps this body from standing what it stood: covered, or its dial turned down."""
    return bool(case.kept.notes.get("covered", {}).get("tries")) or may_be_at_its_dial(case)


def may_be_at_its_dial(case: Case) -> bool:
    """Whether it goes to nothing early and comes back, lately: most of what it is told to give it does not."""
    about = case.kept.notes.get(NOTES, {})
    since = case.now.steady - CYCLES_SECONDS
    return about.get("code") == "dial-down" or any(
        at > since and share < EARLY_SHARE for at, share, _ in about.get("cycles", [])
    )


def stood(case: Case, share: float) -> None:
    """A run has come to this share of what it stood before, and nothing opened early: no cover, no dial."""
    about = case.kept.notes.get(NOTES, {})
    if about.get("code") == "dial-down" and share >= min(0.9, about.get("share", 0.9) + PAST_DIAL_SHARE):
        _clear(about)
    if share < 0.9:
        return
    notes = case.kept.notes.get("covered")
    if notes and notes.get("tries") and not notes.get("latched"):
        notes.clear()
    case.kept.notes.get("cut-out", {}).pop("looked", None)


def opened_early(case: Case, opened: Notes, proven: float) -> None:
    """An opening to a lower level, far earlier than before."""
    covered(
        case,
        said(
            "Its own cut-out opened after {minutes:.0f} min, at {share:.0f} % of the warmth that it has stood before.",
            minutes=_minutes(opened["seconds"]),
            share=100 * opened["most"] / proven,
        ),
    )


def opened_under_what_it_stood(case: Case, share: float) -> None:
    """An opening that a slow meter showed late, and yet far too early."""
    covered(
        case,
        said(
            "Its own cut-out opened at {share:.0f} % of the warmth that it has stood before, or sooner.",
            share=100 * share,
        ),
    )


def still_open(case: Case, seconds: float) -> None:
    """Its cut-out had not closed again after a rest in which a free body would have cooled."""
    covered(
        case,
        said(
            "Its own cut-out opened far too early, and was open yet after {minutes:.0f} min.",
            minutes=_minutes(seconds),
        ),
    )


def overheated(case: Case, opened: Notes) -> None:
    """The body went on warming on its low element until a second switch opened."""
    covered(
        case,
        said(
            "Its cut-out left {after:.0f} W, and after {minutes:.0f} min more even that went out: "
            "it cannot get rid of its heat.",
            after=opened["after"],
            minutes=_minutes(case.now.steady - opened["at"]),
        ),
    )


def no_other_level(case: Case) -> None:
    """What was told of its level was what its cut-out had left."""
    about = case.notes(NOTES)
    if about.get("code") in ADVICE[:3]:
        _clear(about)


def dial(case: Case, evidence: str) -> None:
    """Its dial is turned down: what was taken for a cover was that."""
    _name(case.notes(NOTES), "dial-down", evidence)
    case.notes("covered").clear()


def may_be_the_dial(case: Case, evidence: str) -> None:
    """Rather the dial than a cover: told beside `opens-early`, which keeps it off until someone has looked."""
    _name(case.notes(NOTES), "dial-down", evidence)


def came_back(
    case: Case, power: Power, gone: Notes, off_seconds: float, proven: float | None, unsure: bool = False
) -> bool:
    """Power went to nothing early and is back: the dial, or a cover. True once it is named the dial.

    `unsure`: what was told so far may be either.
    """
    about = case.notes(NOTES)
    learned = int(about.get("runs", 0)) >= (SLOW_LEARNED_RUNS if power.slow else LEARNING_RUNS)
    share = gone["most"] / proven if learned and proven else 1.0
    if leaves_an_element(case, gone["before"]):  # however late: its cut-out would have left the low one
        share = min(share, SURELY_EARLY_SHARE)
    cycles = [one for one in about.get("cycles", []) if case.now.steady - one[0] < CYCLES_SECONDS]
    about["cycles"] = cycles = [*cycles, [case.now.steady, round(share, 2), round(off_seconds)]][
        -MOST_CYCLES:
    ]
    early = [one for one in cycles if one[1] < EARLY_SHARE]
    if len(early) < 2:
        return False
    offs = sorted(one[2] for one in early)
    off = offs[0]  # the relay's rests, and short runs that were missed, make the others longer
    most = max(one[1] for one in early)
    about["cycles"] = []
    if _is_dial(case, gone["before"], off, most, power.slow):
        _name(
            about,
            "dial-down",
            said(
                "Power went to nothing and came back {times:.0f} times, within {minutes:.0f} min, "
                "at {share:.0f} % of the warmth that it has stood before.",
                times=len(early),
                minutes=_minutes(off),
                share=100 * most,
            ),
        )
        about["share"] = most
        return True
    if about.get("code") == "dial-down":
        return False  # as was told already
    why = said(
        "Power went out {times:.0f} times, at {share:.0f} % of the warmth that it has stood before, "
        "and needed {minutes:.0f} min to come back.",
        times=len(early),
        share=100 * most,
        minutes=_minutes(off),
    )
    if unsure:
        why = said(
            "Power went out {times:.0f} times, at {share:.0f} % of the warmth that it has stood before. "
            "That does not tell yet whether something lies on it or its dial is turned down.",
            times=len(early),
            share=100 * most,
        )
    covered(case, why, unsure)
    return False


def _is_dial(case: Case, before: float, off_seconds: float, most: float, slow: bool) -> bool:
    """A dial closes again after a few kelvins; a cut-out lets the body cool for long, under a cover longer still.

    A slow meter does not tell how soon: what can be a cover is called one.
    """
    facts = case.kept.facts
    leaves, takes_all = _openings_seen(case, before)
    if leaves > takes_all:
        return True  # this heater's cut-out leaves the low element
    if slow or leaves_an_element(case, before):
        return leaves_an_element(case, before)
    if facts.body_tau_seconds is not None:
        return off_seconds * tau_seconds(case.heater.kind) / facts.body_tau_seconds < SOON_SECONDS
    return off_seconds < SOON_UNLEARNED_SECONDS or most < FAR_SHARE


def leaves_an_element(case: Case, watts: float | None) -> bool:
    """Whether a cut-out would not take this level to nothing: of an oil-filled heater's settings the lowest has none
    behind it, and of the highest it leaves the lowest (common practice, no published source)."""
    settings = sorted(case.heater.settings_watts)
    if watts is None or case.heater.kind != "oil-filled" or len(settings) < 2:
        return False
    leaves, takes_all = _openings_seen(case, watts)
    return takes_all <= leaves and (near(watts, settings[0], False) or near(watts, settings[-1], False))


def may_be_left(case: Case, before: float, after: float, exact: bool) -> bool:
    """Whether its cut-out may leave that level of the other: what it was seen to leave, else an oil-filled heater's
    lowest setting (common practice, no published source)."""
    seen = [trip.after_watts for trip in case.kept.facts.trips if near(trip.before_watts, before, False)]
    settings = sorted(case.heater.settings_watts)
    if not seen and (case.heater.kind != "oil-filled" or len(settings) < 2):
        return True
    return any(near(after, one, exact) for one in seen or settings[:1])


def _openings_seen(case: Case, watts: float) -> tuple[int, int]:
    """How many openings from this level left an element, and how many took all."""
    after = [trip.after_watts for trip in case.kept.facts.trips if near(trip.before_watts, watts, False)]
    return sum(1 for one in after if one), sum(1 for one in after if not one)


def has_no_cut_out(case: Case, watts: float) -> bool:
    """Whether this is the lowest of the heater's settings, which goes to nothing only by its dial or by hand."""
    return leaves_an_element(case, watts) and near(watts, min(case.heater.settings_watts), False)


def began(case: Case, power: Power, level: float, opened: Notes | None, warm: bool, sure: bool = False) -> bool:
    """A run began on a level. True if that shows that what looked like an opening was none.

    `sure`: nothing can have opened in it yet; else a slow meter tells only by a second such run.
    """
    about = case.notes(NOTES)
    usual = about.get("usual")
    about["runs"] = min(int(about.get("runs", 0)) + 1, 99)
    if usual is None or near(level, usual, power.exact):
        about["usual"] = round(level, 1)
        about.pop("low", None)
        if about.get("code") in ADVICE[:3]:
            _clear(about)
        # from another level down to the usual one, cold too: the selector was turned back
        return opened is not None and not warm and not near(opened["before"], level, power.exact)
    if level > usual:
        _higher(case, about, usual, level, power.exact)
        return False
    if warm or (about.get("code") in ADVICE[:3] and near(about["level"], level, power.exact)):
        return False
    low = about.get("low")
    count = low[1] + 1 if low and near(low[0], level, power.exact) else 1
    about["low"] = [round(level, 1), count]
    if count < (2 if power.slow and not sure else 1):
        return False
    in_run = opened is not None and near(opened["after"], level, power.exact)
    _lower(case, about, usual, level, in_run, power.slow)
    return in_run


def turned_back(case: Case, power: Power, before: float, after: float, early: bool) -> bool:
    """A fall to the usual level, of a heater whose selector is known to be moved: someone turned it back. Where its
    cut-out would leave that level as well, that opens only as late as before."""
    about = case.notes(NOTES)
    usual, level = about.get("usual"), about.get("level")
    if about.get("code") != "selector-moved" or usual is None or level is None:
        return False
    if not near(before, level, power.exact) or not near(after, usual, power.exact):
        return False
    if may_be_left(case, before, after, power.exact) and not early:
        return False
    _clear(about)
    body = case.kept.body
    body.full_watts, body.drew_watts, body.peak_watts = after, case.kept.watts, 0.0
    body.opened, body.fell_at, body.fall, body.cool_share = False, None, None, 1.0
    return True


def rose(case: Case, power: Power, after: float) -> None:
    """In the middle of a run power rose, and no cut-out closed."""
    about = case.notes(NOTES)
    usual = about.get("usual")
    if usual is None or near(after, usual, power.exact):
        if about.get("code") in ADVICE[:3]:
            _clear(about)
    elif after > usual:
        _higher(case, about, usual, after, power.exact)


def flowed(case: Case, watts: float, exact: bool) -> None:
    """All that a run too short for its meter showed: at least so much power flows. More than usual is the selector."""
    about = case.notes(NOTES)
    usual = about.get("usual")
    if usual is None:
        return
    if near(watts, usual, exact):
        if about.get("code") in ADVICE[:3]:
            _clear(about)
    elif watts > usual:
        _higher(case, about, usual, watts, exact)


def is_dial(kept: HeaterMemory) -> bool:
    """Whether its dial is known to be turned down."""
    return kept.notes.get(NOTES, {}).get("code") == "dial-down"


def is_less(kept: HeaterMemory) -> bool:
    """Whether it is known to draw another power than usual: an element, or the selector."""
    about = kept.notes.get(NOTES)
    return about is not None and about.get("code") in ADVICE[:3]


def advice(kept: HeaterMemory) -> Verdict | None:
    """What a person should know of this heater, that takes no heat away."""
    about = kept.notes.get(NOTES)
    code = about.get("code") if about else None
    if about is None or code is None:
        return None
    return Verdict(code, False, trouble=True, evidence=about["evidence"])


def accept(kept: HeaterMemory, code: str) -> None:
    """The owner has looked: what the heater draws now is right."""
    about = kept.notes.get(NOTES, {})
    if about.get("code") == code:
        if code != "dial-down" and about.get("level"):
            about["usual"] = about["level"]
        _clear(about)
    if code in ("covered", "opens-early", "dial-down"):
        kept.body.fall = None
        if code == "opens-early":
            kept.notes.pop("covered", None)
        about.pop("cycles", None)
        cut_out = kept.notes.get("cut-out", {})
        for name in ("log", "gone"):  # what it did before they looked says no more
            cut_out.pop(name, None)
        if cut_out.get("looked"):  # twice without a long run between: it stands so, and is learned anew
            cut_out.pop("proven", None)
            cut_out.pop("looked")
        elif "proven" in cut_out:
            cut_out["looked"] = cut_out["hot_yet"] = True


def _higher(case: Case, about: Notes, usual: float, level: float, exact: bool) -> None:
    if about.get("code") is None and about["runs"] <= LEARNING_RUNS and not case.heater.settings_watts:
        about["usual"] = round(level, 1)  # too little was seen yet to say what is usual
        return
    if near(level, case.heater.watts, exact) and usual < LOWER_SHARE * case.heater.watts:
        about["usual"] = round(level, 1)  # as the file has it: what was seen before was less, or its cut-out open
        if about.get("code") in ADVICE[:3]:
            _clear(about)
        return
    if about.get("code") == "selector-moved" and near(about["level"], level, exact):
        return
    why = said("It draws {level:.0f} W instead of {usual:.0f} W.", level=level, usual=usual)
    _name(about, "selector-moved", why, level)


def _lower(case: Case, about: Notes, usual: float, level: float, in_run: bool, slow: bool) -> None:
    settings = case.heater.settings_watts
    known = any(near(level, one, exact=False) for one in settings)
    if len(settings) > 1 and not known:
        code = "element-out"
        why = said(
            "It fell from {usual:.0f} W to {level:.0f} W, cold too, and that is none of its settings.",
            usual=usual, level=level,
        )  # fmt: skip
    elif in_run or slow or len(settings) <= 1:
        code = "less-power"
        why = said(
            "It fell from {usual:.0f} W to {level:.0f} W, and stays there though it has cooled.",
            usual=usual, level=level,
        )  # fmt: skip
        if in_run:
            why = said(
                "It fell from {usual:.0f} W to {level:.0f} W in the middle of a run, and stays there though it has "
                "cooled.",
                usual=usual, level=level,
            )  # fmt: skip
    else:
        code = "selector-moved"
        why = said(
            "It came on with {level:.0f} W instead of {usual:.0f} W; that is one of its settings.",
            usual=usual, level=level,
        )  # fmt: skip
    _name(about, code, why, level)


def _name(about: Notes, code: str, evidence: str, level: float | None = None) -> None:
    about.update(code=code, evidence=evidence, level=level)


def _clear(about: Notes) -> None:
    for name in ("code", "evidence", "level", "low", "cycles", "share"):
        about.pop(name, None)


def _minutes(seconds: float) -> float:
    return max(seconds, 60.0) / 60.0
