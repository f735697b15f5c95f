"""A senior technician's sheet becomes cases, through a mapping file that says what is what."""
