"""The hour: room and unit solved together, its controls, and the loop over the year."""
