"""What the trade knows: the shape of the model files, how they are read, written and hashed."""
