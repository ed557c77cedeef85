"""What a heater's body does between its meter's reports: how warm it is, and when its own cut-out would open.

`state` is what is remembered, `store` the body's arithmetic, `lessons` what trips teach, `follow` the watch of each
step, `outlook` what a run from now would come to.
"""
