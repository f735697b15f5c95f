"""A visit is a fold over its events: what was said, seen and done, in order."""
