"""How a circuit's amperes are shared: what is on it, who needs warmth most, and whose turn it is."""
