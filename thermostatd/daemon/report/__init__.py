"""What a day, week, month or winter was: energy, cost, comfort, clicks, wear, arrivals, and what the house loses.

`period` says from when to when, `reckon` does the sums on the record's rows, `text`, `page` and `plain` tell them.
"""
