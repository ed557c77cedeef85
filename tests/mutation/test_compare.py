"""What mutmut leaves alive is known by its function and its change, and what is not known is told."""

from tests.mutation.compare import KNOWN, judged, listed, name_of

DIFF = """--- thermostatd/core/guard/overshoot.py
+++ thermostatd/core/guard/overshoot.py
@@ -1,3 +1,3 @@
 def judge(case):
-    over = a  >= b
+    over = a > b
"""
NAME = "guard.overshoot.judge\n- over = a >= b\n+ over = a > b"


def test_a_survivor_is_known_by_its_function_and_its_change():
    """Numbers and blanks may move."""
    assert name_of("thermostatd.core.guard.overshoot.x_judge__mutmut_20", DIFF) == NAME
    assert name_of("thermostatd.core.door.xǁDoorǁtake__mutmut_3", "").splitlines() == ["door.Door.take"]


def test_a_list_names_functions_and_their_changes():
    """Text between the entries is for people."""
    text = [
        "## Equal",
        "why",
        "",
        "- `a.b`",
        "      - one",
        "      + two",
        "",
        "- `c.d`",
        "      + three",
        "more",
    ]
    assert list(listed(text)) == ["a.b\n- one\n+ two", "c.d\n+ three"]


def test_what_nobody_knows_is_told():
    """And the score is told by module."""
    table, unknown = judged({"core.guard.overshoot": (9, 10)}, [NAME, "x.y\n- 1"], [NAME])
    assert unknown == ["x.y\n- 1"]
    assert " 9 of    10   90.0 %" in table


def test_the_kept_list_can_be_read():
    """Each entry has a change, and stands once."""
    known = list(listed(KNOWN.read_text().splitlines()))
    assert all("\n" in one for one in known)
    assert len(known) == len(set(known))
