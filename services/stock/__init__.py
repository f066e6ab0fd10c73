"""Full lengths, offcuts and their movements."""
