"""Reads video clips as upright pictures with true times, checks them for damage, draws on them and encodes them."""
