"""What a heater's body does between its meter's reports: how warm it is, and when its own cut-out would open.

`state` is what is remembered, `store` the body's arithmetic, `expected` what it should draw; `follow` watches each
step, from `beginning` on, `reports` what its meter proves, `opening` where a fall of power may be one; `lessons` is
what trips teach, `outlook` what a run from now would come to.
"""
