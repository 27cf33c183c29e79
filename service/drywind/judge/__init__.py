"""Judgement: the simulated drying against what the wood can stand, as findings."""
