"""Files that a run writes."""
