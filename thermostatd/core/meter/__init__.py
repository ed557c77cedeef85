"""What a plug's meter tells of its heater: its levels, its cut-out's openings, and what is wrong with it.

`power` is one report made comparable, `warmth` how warm the body may be, `run` follows one run from report to
report, `watch` hears what happened in it: `starts`, `falls`, `returns`, `holds`. `levels` keeps the powers that the
heater has, `diagnosis` names what the runs have shown; where reports are far apart, `logbook` and `replay` help.
"""
