"""Sentences for people and objects for programs, filled from templates that are kept as data."""
