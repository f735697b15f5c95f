"""How well and how fast numbers are learned."""
