"""A year of a family's life with the daemon, in an invented house: what it told, how often it erred, how warm it was.

`python -m tests.bench.year` prints a row for each month, then each trouble that was told; an hour of one processor.
"""
