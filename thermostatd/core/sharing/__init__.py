"""How a circuit's amperes are shared: what is on it (`load`), who needs warmth most (`need`), and whose turn it is (`turns`)."""
