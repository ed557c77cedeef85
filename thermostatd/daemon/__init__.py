"""Puts the core and the adapters together, runs them, and stops with every plug off.

A reading travels one way: broker → inbox → sensing and plugs → Observation → `Regulator.step` → orders → plugs,
the broker's topics, the store and the pages. `service.py` is that loop.
"""
