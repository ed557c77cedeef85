"""What the meter's diagnoses are worth: faults ordered in a simulated house on a real household's mains voltage.

`python -m tests.bench.diagnosis [--days N] [--seeds N] [--first-seed N] [METER ...]` prints one confusion matrix for
each meter.
"""
