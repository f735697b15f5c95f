"""A physical softener with physical faults in it, which answers checks as a technician finds them.

The independent judge of the advice: it knows physics and the ids of a model, and none of the
model's likelihoods. It shares `physics` with `readings`, so a mistake there is a mistake in both.
Where a number is neither physics nor stands in a source it is judged and says so beside it.
"""
