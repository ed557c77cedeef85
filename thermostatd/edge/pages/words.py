"""The words that the pages' Python says, in English; they are also the keys of the catalogues.

Those of the templates stand in the templates. A sentence with a field is made by `said`, so that it can be translated.
"""

from __future__ import annotations

WRONG_HOST = (
    "This machine does not answer to that name. "
    "Use its address, or let the owner add the name to `hosts` under [pages] in the house file."
)
WRONG_ORIGIN = (
    "That did not come from this house's own page, so nothing was changed. "
    "Open the page anew and try again there."
)
TOO_SLOW = "That took too long to arrive, so nothing was changed. Come nearer to the network, then try again."
TOO_LARGE = "That is more than this page takes, so nothing was changed. Send less than 16 kB."
TOO_BUSY = (
    "Too many are connected at once. Close other pages of this house, wait a few seconds, then try again."
)
NOT_HTTP = "That cannot be read as a web request. Open this house's address in a browser."
NOT_JSON = "Send JSON, with Content-Type: application/json."
NOT_FORM = "That is no plain form, so nothing was changed. Open the page anew and try again there."
BROKEN_JSON = "That is not JSON as it should be: each field once, no NaN. Send it whole again."
DOUBLED = "The field “{field}” stands there twice."
UNKNOWN = "There is no field “{field}” here."
LACKING = "The field “{field}” is missing."
JOIN_FIRST = "This phone has not joined. Ask the owner for a code, then open /join."
BEHIND_PROXY = (
    "Asking without joining is not possible through a proxy: a forwarding header is present, so nobody "
    "knows who is at the other end. Join with a code instead."
)
OWNER_ONLY = "Only the owner can do that. Give the owner's passphrase under Owner first."
NOT_FOR_GUESTS = "As a guest you cannot do that. Ask someone of the household."
ASKED_TOO_OFTEN = "That was a lot of asking. Wait a few seconds, then ask again."
GUESSED_TOO_OFTEN = "Too many tries from this address. Wait a minute, then try again."
CODE_WRONG = (
    "That code is not good, or it was used or is older than ten minutes. Ask the owner for a new one."
)
CODE_SHAPE = "A code has eight digits."
NAME_LACKING = "Give this phone a name, so that others know who asked."
NAME_SHAPE = "A name has one to thirty signs, without line breaks."
PASSPHRASE_WRONG = "That is not the owner's passphrase."
NO_PASSPHRASE = "The house file names no owner_passphrase_file, so nobody can become owner here."
NO_SUCH_ROOM = "There is no room or spot “{name}” here."
NO_SUCH_PAGE = "There is no such page."
LOOK_AGAIN = "Look at its address again, or begin with all rooms."
NO_SUCH_PAGE_HERE = "There is no such page. Look at its address again, or begin with all rooms."
NO_SUCH_METHOD = (
    "This address takes no {method} request. Begin with all rooms, or see /openapi.json for the API."
)
NO_SUCH_PHONE = "That phone is not among those that joined any more. Open People anew."
NOT_STORED = "That could not be kept, so nothing was changed: {fault}. The heating goes on."
FIELD_WRONG = "“{field}”: {what}."
NO_NUMBER = "Write the degrees as a number, such as {example}."
NO_TIME = "Write the time as hours and minutes, such as 18:00."
OVER_TODAY = "{at} is over today. Choose tomorrow or another day, or a later time."
NO_UNTIL = "“{until}” is no end: use “next-step”, “no-end”, or a time with its offset."
NO_OFFSET = "Write the time with its offset from UTC, such as 2026-01-12T18:00:00+01:00."
PAST_TIME = "That time is over."
NO_DATE = "Choose a day that is still to come."
GUEST_ROOM = "Choose the guest's room."
NO_DAY = "Choose a day of the week."
LONE_TIME = "A step needs its time and its degrees; clear both to take it away."
NOTHING_TO_UNDO = "There is nothing to undo here any more."
TOO_MANY_LIVE = "This phone already has several live pages open. Close some."
SOMEONE_HERE = "Someone here"
SOMEONE = "Someone"
BROKEN = (
    "Something went wrong here. Nothing was changed; the heaters follow what was decided before. "
    "Try again; if it stays so, the owner finds more in the log."
)
NOTHING_YET = "Nothing has been decided yet. Heaters stay off until every sensor and plug has been heard."
OLD = "What you see is from {at}: nothing has been decided for {span}."
BROKER_AWAY = "The broker is away: sensors and plugs cannot be heard, and plugs on it cannot be told anything."
ENDS_ITSELF = "A plug with a timer switches itself off, at most twenty minutes after it was last told ON."
STAYS_ON = (
    "Go and look at {heaters}: the plug has no timer, and if it is on, it stays on. "
    "Use the heater's own switch, then pull the plug."
)
ALL_OFF_FIRST = "First press “Turn heating on again”, at the top."
ALL_OFF_NOW = "Everything is off. Someone of the household can turn heating on again."
OUT_FIRST = "First press “Someone is back”, at the top."
OUT_NOW = "Everyone is out. Someone of the household can say that they are back."
NO_HEATER = "No heater stands here, so nothing can be asked."
STANDS_ELSEWHERE = "Its heater “{heater}” stands in the room “{room}” now, as the owner said."
FILE_FAULT = (
    "The house file was changed and has a fault, so the house goes on with the last good one. "
    "For the owner: {told}"
)
FILE_WAITS = "Changed in the house file, and in force only after a restart: {names}."
NO_READING = "no reading"

WHOSE = {
    "usual": "The usual week",
    "frost": "Guard against frost only",
    "out": "Everyone is out",
    "all-off": "Everything is off",
    "season": "Outside the heating season",
    "nothing": "Nothing is asked",
    "held": "Held while the clocks disagree",
}


def first_capital(sentence: str) -> str:
    """The sentence with a capital at its head."""
    return sentence[:1].upper() + sentence[1:]
