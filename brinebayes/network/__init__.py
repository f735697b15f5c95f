"""Model to discrete network to junction tree to beliefs, epochs, contradiction, exchange."""
