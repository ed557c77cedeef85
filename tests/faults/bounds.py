"""What the guide on the dead-man's chain promises, in seconds: tests measure against it, and the guide must say it."""

CHAIN = {
    "the program crashes": 2.0,
    "the program stops deciding": 75.0,
    "the whole process freezes": 30.0,
    "its machine goes from the network": 35.0,
    "the broker dies": 1200.0,
    "the broker freezes": 1200.0,
    "the plug loses its network": 1200.0,
    "broker and machine die together": 1200.0,
    "the program is stopped": 2.0,
    "the program gives up": 30.0,
    "the plug restarts into ON": 3.0,
    "someone presses the plug's button": 3.0,
    "the house file is wrong at a start": 2.0,
}
