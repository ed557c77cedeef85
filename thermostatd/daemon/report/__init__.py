"""What a day, week, month or winter was: energy, cost, comfort, clicks, wear, arrivals, and what the house loses.

`period` says from when to when; `comfort`, `energy` and `pieces` do the sums on the record's rows as `columns`; `whole`
puts them together; `text`, `page` and `whole.plain` tell them, `export` hands the rows out.
"""
