"""The DX unit: its steady state, part load, capacity control, condenser and reheat arrangements."""
