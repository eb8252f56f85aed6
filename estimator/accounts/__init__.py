"""What a solved year adds up to: energy, bills, costs, hours out of range."""
