"""Simulated visits: a physical unit as the judge, and trials of ways to choose on it."""
