"""Before the visit: questions, parts, chances and minutes."""
