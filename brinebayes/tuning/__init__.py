"""The shop's own numbers: what closed cases say about the numbers of a model."""
