"""For every test: no property is timed; what the tests of faults measured is printed, whichever process ran them."""

from __future__ import annotations

from typing import Any

from hypothesis import settings

_AS_FOUND = settings.get_profile(settings.get_current_profile_name())  # the mutants' runner has its own
settings.register_profile("untimed", parent=_AS_FOUND, deadline=None)  # a busy machine takes its time
settings.load_profile("untimed")


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Scenario, bound and measured, in seconds."""
    reports = [one for kind in ("passed", "failed") for one in terminalreporter.stats.get(kind, [])]
    rows = [
        row
        for report in reports
        if getattr(report, "when", "") == "call"
        for name, row in report.user_properties
        if name == "fault"
    ]
    if not rows:
        return
    terminalreporter.write_sep("-", "faults: seconds until what is stated, on real parts")
    for number, what, bound, took in sorted(rows):
        terminalreporter.write_line(f"{number:3d}  {what:<78} bound {bound:6.1f}  measured {took:6.2f}")
