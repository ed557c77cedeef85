"""What a plain memory leaves out of the requests that it keeps, wherever it keeps them. All invented."""

from thermostatd.core.memory import ChangeMemory, Memory, RequestMemory, RoomMemory
from thermostatd.core.remembering import from_plain, to_plain

ASKED = RequestMemory("Ana", "direct", 5.0, 900.0, 905.0)


def test_a_request_is_kept_without_what_it_does_not_say():
    """Out, all off, at a spot, and in a room."""
    memory = Memory(out=ASKED, all_off=ASKED, spots={"desk": ASKED}, rooms={"study": RoomMemory(request=ASKED)},
                    changes=[ChangeMemory(1, 50.0, {"out": ASKED})])  # fmt: skip
    plain = to_plain(memory)
    for kept in (plain["out"], plain["all_off"], plain["spots"]["desk"], plain["rooms"]["study"]["request"]):
        assert set(kept) == {"who", "origin", "asked_wall", "ends", "until_wall"}
    assert from_plain(plain) == memory
