"""Names what a heater's runs have shown: covered, dial down, an element out, the selector moved.

`suspicion` says whether something keeps the body from standing what it stood, `cover` and `dial` which of the two,
`elements` what its cut-out leaves, `another_level` what its power tells of element and selector; `naming` keeps what is
named, and `accepting` hears of a person who has looked.
"""
