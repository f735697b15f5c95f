"""Simulated visits: drawn units, a physical unit as the judge, and policies compared on them."""
