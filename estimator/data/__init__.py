"""Tables of data, each with its source and standing, and their readers."""
