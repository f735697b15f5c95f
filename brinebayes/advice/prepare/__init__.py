"""Before the visit: what to ask on the phone, what to carry, how long it takes, how it may end.

Never imported on the way to `next` and `visit`.
"""
