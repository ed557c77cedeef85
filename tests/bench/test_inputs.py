"""What `replay` needs stays within what a room may take on the disk."""

from tests.bench.inputs import BUDGET_BYTES, measure


def test_a_fortnight_of_inputs_is_small() -> None:
    """With a meter that speaks every ten seconds a room's fourteen days take under half of its 5 MB, in few writes."""
    cost = measure()
    assert cost.bytes_a_day > 10_000
    assert cost.fortnight_bytes < BUDGET_BYTES / 2
    assert cost.parts <= 145
