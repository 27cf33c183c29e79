"""What weighings teach of wood that is known because it is made."""
