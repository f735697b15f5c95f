"""How good the ranking of a model is on recorded cases, by rules that stand in `ranking`."""
