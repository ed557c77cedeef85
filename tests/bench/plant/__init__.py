"""The control laws against a house that nobody here simulates by hand: EnergyPlus, one simulation in one process.

`python -m tests.bench.plant --house light --law predictive --days 12 --seed 1`: one run, its figures.
`python -m tests.bench.plant table`: every peer, house, weather and seed, and the goals, met or missed.

Rules: the engine's zone step is one minute, and so is the regulator's tick; the regulator is reached through its
public faces only; what is judged is the true air, which no sensor knows; K, W, seconds, steady from the start.
Houses, heaters, sensors and people are invented; the weather is the engine package's own (TMY3 files).
"""
