"""A case is a closed visit; the log keeps them, and what was known at each step comes back out."""
