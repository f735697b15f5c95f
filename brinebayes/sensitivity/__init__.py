"""How far the figures of a ranking hang on numbers that were judged."""
