"""Climate: the air that reaches the boards of one stack."""
