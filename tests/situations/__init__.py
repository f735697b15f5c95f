"""What a technician expects of the shipped model, as data that a technician can read."""
